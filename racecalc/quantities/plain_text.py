"""Words from files, made safe to set into one line of a page, a table or a map."""

JOINERS = "\u200c\u200d"
"""Invisible signs that some scripts and emoji are spelled with; they steer nothing else."""


def one_line(text: str, most: int | None = None) -> str:
    r"""Return the text on one line, without signs that steer what shows it.

    Line breaks and runs of spaces become one space. Control characters, marks and overrides of
    the direction of writing, lone surrogates and code points without a character are left out.

    Examples
    --------
    >>> one_line(" River\n\u202eroad\x07 "), one_line("a long name", most=6)
    ('River road', 'a lon…')
    """
    signs = (sign for sign in text if sign.isprintable() or sign.isspace() or sign in JOINERS)
    kept = " ".join("".join(signs).split())
    if most is None or len(kept) <= most:
        return kept
    return kept[: most - 1].rstrip() + "\u2026"


def shortened(words: str, most: int) -> str:
    """Words on one line, the last of them left out where they are too many.

    Examples
    --------
    >>> shortened("Sit up, look, then build the speed again.", 30), shortened("Turn", 30)
    ('Sit up, look, then build the…', 'Turn')
    """
    line = one_line(words)
    if len(line) <= most:
        return line
    cut = line[:most].rpartition(" ")[0]
    return f"{cut.rstrip(' ,;:.')}\u2026" if cut else one_line(words, most)
