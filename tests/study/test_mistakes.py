"""Some two hundred mistakes typed: each is refused, asked about or rightly taken, in the words of the table."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from facts import each_holds

from .mistakes import ASKED, BASES, REFUSED, TAKEN, Mistake, stored, verdict_of, with_mistake

UNDERSTOOD = "understood"
"""How the table ends what is no mistake here, for it is read as it was meant."""

NOT_NOTICED = ["feet under a key of metres, of a size that could be"]
"""What nothing gives away."""


def test_every_mistake_has_its_verdict_and_its_words(tmp_path: Path) -> None:
    """The words are the program's own, read before they were stored; the verdicts are what a person would want."""

    def holds(mistake: Mistake) -> None:
        found = verdict_of(tmp_path / mistake.base, with_mistake(mistake))
        assert found == (mistake.verdict, mistake.words)

    each_holds(stored(), holds, name=lambda mistake: mistake.typed)


def test_the_studies_are_sound_before(tmp_path: Path) -> None:
    for base, files in BASES.items():
        assert verdict_of(tmp_path / base, files) == (TAKEN, "")


def test_what_is_taken_is_understood_or_known_to_pass() -> None:
    mistakes = stored()
    counted = Counter(mistake.verdict for mistake in mistakes)
    assert counted.keys() == {REFUSED, ASKED, TAKEN}
    assert len({mistake.typed for mistake in mistakes}) == len(mistakes) >= 150
    silent = [each.typed for each in mistakes if each.verdict == TAKEN and not each.typed.endswith(UNDERSTOOD)]
    assert silent == NOT_NOTICED
