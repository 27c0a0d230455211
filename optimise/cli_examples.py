"""An example or two of each command, shown below its help, and all help in one page."""

import click

EXAMPLES = {
    "build": [
        "rushlight build job.toml --catalogue my-parts --json build.json",
        "rushlight build job.toml --objective mass --alternatives 3",
        "rushlight build job.toml --bill bill.csv",
        "rushlight build job.toml --calibration figures.toml",
    ],
    "check": ["rushlight check my-parts job.toml", "rushlight check my-parts --convert my-parts.xlsx"],
    "manual": ["rushlight manual > rushlight.txt"],
    "measure": [
        'rushlight measure build.json --lux "118 lx at 2.5 m" --bare-lux "170 lx at 2.5 m"',
        "rushlight measure build.json --form measured.toml",
        "rushlight measure build.json --from measured.toml --calibration figures.toml",
    ],
    "prices": ["rushlight prices list.csv --mapping list.toml --out offers.csv"],
    "reprice": [
        "rushlight reprice build.json --offers offers-new.csv",
        "rushlight reprice build.json --no-spans --watch",
    ],
    "sheet": ["rushlight sheet build.json --out build.html", "rushlight sheet build.json --pdf build.pdf"],
    "start": [
        "rushlight start my-light",
        'rushlight start my-light --bright "120 lx" --distance "2.5 m" --source battery --runtime "60 min"',
        "rushlight start my-light --template",
    ],
    "study": ["rushlight study jobs --objective cost --objective mass --out results"],
    "trade": [
        "rushlight trade job.toml mass runtime",
        'rushlight trade job.toml cost runtime --enough "6 h" --csv f.csv',
    ],
    "why": ["rushlight why job.toml"],
}
"""By command: lines as they are typed."""


def with_examples(group: click.Group) -> None:
    """Have the help of each command of a group end with its examples."""
    for name, command in group.commands.items():
        lines = EXAMPLES.get(name, [])
        if lines:
            # A paragraph that begins with \b keeps its lines as they are.
            command.epilog = "\b\nExamples:\n" + "\n".join(f"  {line}" for line in lines)


@click.command()
@click.pass_context
def manual(context: click.Context) -> None:
    """Print the help of all commands as one page of text."""
    top = context.find_root()
    assert isinstance(top.command, click.Group)
    pages = [top.get_help()]
    for name in sorted(top.command.commands):
        command = top.command.commands[name]
        pages.append(command.get_help(click.Context(command, info_name=name, parent=top)))
    click.echo(f"\n\n{'-' * 80}\n\n".join(pages))
