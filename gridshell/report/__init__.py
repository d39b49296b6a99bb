"""Tables, JSON, pictures and the report page: everything here is shown, nothing is computed."""
