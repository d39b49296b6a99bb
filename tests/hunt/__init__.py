"""Random designs over everything the definition file accepts, held to laws without constants."""
