"""`gridshell fields`: every table and key of a definition file."""

from __future__ import annotations

import argparse

from gridshell.commands.command import Command
from gridshell.commands.common import check_free, print_json
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """The reference of the definition file, as text, Markdown, JSON or JSON Schema."""
    from gridshell.define import describe
    from gridshell.define.files.replacing import write_text

    if options.schema:
        import json

        from gridshell.define.json_schema import json_schema

        if options.file is not None:
            raise InputError("TABLE: the JSON Schema is of the whole file; leave the table out")
        check_free(options.schema, options.force)
        write_text(options.schema, json.dumps(json_schema(), indent=1) + "\n", options.force)
        print(f"wrote {options.schema}")
        return 0
    tables = describe.chosen_tables(options.file, options.units or "metric")
    if options.json:
        print_json(describe.fields_json(tables))
    elif options.markdown:
        print(describe.fields_markdown(tables), end="")
    else:
        print(describe.fields_text(tables))
    return 0


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--markdown", action="store_true", help="print Markdown tables")
    parser.add_argument(
        "--schema", metavar="OUT.json",
        help="write a JSON Schema, by which an editor completes and checks definition files")
    parser.add_argument("--units", choices=("metric", "inch"), help="of defaults and bounds")


COMMAND = Command(
    "fields", "every table and key of a definition file", run, _options, ("force",),
    "Every key with its meaning, unit, default and bounds.",
    "a table such as ribs or body.part, or a key such as ribs.height; default: all",
    needs_file=False,
)
