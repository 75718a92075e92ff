"""A result as a notebook shows it: one short table and what must be read with it, without network or script."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

CELL = "text-align: left; vertical-align: top; padding: 0.2em 1em 0.2em 0"
"""Style of a cell; colours are left to the notebook, so that light and dark both do."""


def shown(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], below: Sequence[str] = (), more: Sequence[str] = ()
) -> str:
    """HTML of a table with its title; every text is escaped.

    Parameters
    ----------
    heads : of the columns
    rows : the first cell of each is what it is about
    below : sentences that stand under the table
    more : cautions that stand folded beneath
    """
    lines = ["<div>", f"<p><strong>{escape(title)}</strong></p>", "<table>"]
    lines.append(_row("".join(f'<th scope="col" style="{CELL}">{escape(head)}</th>' for head in heads)))
    for first, *others in rows:
        head = f'<th scope="row" style="{CELL}; font-weight: normal">{escape(first)}</th>'
        lines.append(_row(head + "".join(f'<td style="{CELL}">{escape(cell)}</td>' for cell in others)))
    lines.append("</table>")
    lines += [f"<p>{escape(words)}</p>" for words in below]
    if more:
        items = "".join(f"<li>{escape(words)}</li>" for words in more)
        lines.append(f"<details><summary>Cautions</summary><ul>{items}</ul></details>")
    return "\n".join([*lines, "</div>"])


def _row(cells: str) -> str:
    return f"<tr>{cells}</tr>"
