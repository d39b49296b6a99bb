"""`gridshell coupon`: bending tests of coupons -> a material."""

from __future__ import annotations

import argparse

from gridshell.commands.command import Command
from gridshell.commands.common import check_plot, show


def run(options: argparse.Namespace) -> int:
    """Bending tests of coupons -> modulus over temperature and a material file."""
    from gridshell.material.coupon.evaluate import run_coupon
    from gridshell.report.text.coupon import coupon_text

    check_plot(options.plot)
    result = run_coupon(options.file)
    if options.write:
        from gridshell.material.coupon.material_file import write_material_file

        write_material_file(result, options.write, name=options.name, force=options.force)

    def draw(path: str) -> None:
        from gridshell.report.plots.coupon import coupon_figure
        from gridshell.report.plots.style import save

        save(coupon_figure(result, options.units or "metric"), path)
    return show(
        options,
        lambda: result.to_dict(),
        lambda: coupon_text(result, options.units or "metric"),
        draw,
    )


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--write", metavar="MATERIAL.toml", help="write a material file")
    parser.add_argument("--name", help="name of that material")


COMMAND = Command(
    "coupon", "bending tests of coupons -> modulus over temperature, material file", run, _options,
    ("json", "plot", "units", "force"), file="table of readings (CSV)",
)
