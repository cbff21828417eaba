"""The command that opens the page. Thin, like the rest of the commands."""

from __future__ import annotations

import click

from dictation.cli_review import settings_in_use, store_of, sweep


@click.command(short_help="Review by ear and eye, in a browser.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port of this machine; a free one unless given.")
@click.option("--no-browser", is_flag=True, help="Print the address, and open no browser.")
def page(port: int, no_browser: bool) -> None:
    """Open the page on this machine: the work list, review by ear and eye, the note.

    It listens on this machine alone, and lets in whoever has the code printed here. Ctrl-C ends it; everything decided is kept.
    """
    from dictation.web.serving import serve

    settings = settings_in_use()
    store = store_of(settings)
    sweep(store, settings)
    click.echo("The page is open until you press Ctrl-C here. Everything decided is kept.")
    serve(store, settings, port=port, browser=not no_browser, say=click.echo)
