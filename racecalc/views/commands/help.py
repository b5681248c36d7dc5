"""The command that shows the manual."""

import sys

import click

from racecalc.views.manual import titles, topic


@click.command("help")
@click.argument("words", metavar="[TOPIC]", nargs=-1)
def help_command(words: tuple[str, ...]) -> None:
    """The manual: its topics, or one of them."""
    if len(words) > 2:
        raise click.UsageError("one topic at a time")
    lines = [f"- `racecalc help {name}`: {title}" for name, title in titles().items()]
    text = topic(*words) if words else "\n".join(["# Topics", "", *lines])
    if sys.stdout.isatty():
        from rich.console import Console
        from rich.markdown import Markdown

        Console().print(Markdown(text))
    else:
        click.echo(text.rstrip())
