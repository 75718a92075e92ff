"""Who is answered, and what: token, host, origin, kinds of question, bad numbers; a copy only after it was asked about.

What a server of this machine must refuse follows RFC 9110 (Host, status codes) and RFC 6454 (Origin); that a foreign
name can be made to lead here (DNS rebinding) is common practice, no source.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from facts import each_holds
from overbank.live.application import Application
from overbank.study.load import read_study

from .lane import PORT, TOKEN, application, ask


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Application:
    return application(tmp_path_factory.mktemp("live"))


STRANGERS = {
    "another token": {"PATH_INFO": f"/{TOKEN[:-1]}x/"},
    "no token": {"PATH_INFO": "/"},
    "the token alone, within another": {"PATH_INFO": f"/x{TOKEN}/"},
    "a token in other letters": {"PATH_INFO": "/\u00fc\udcff/"},
    "another name": {"HTTP_HOST": f"rebound.invalid:{PORT}"},
    "another port": {"HTTP_HOST": "127.0.0.1:80"},
    "no host": {"HTTP_HOST": None},
    "a page of another's": {"HTTP_ORIGIN": "http://elsewhere.invalid"},
    "a page without a name": {"HTTP_ORIGIN": "null"},
}


def test_strangers_are_refused_everything(app: Application) -> None:
    def refused(who: str) -> None:
        for path, question in (("", None), ("answer", {"held": {}}), ("write", {"word": "x"})):
            environ = dict(STRANGERS[who])
            if "PATH_INFO" in environ:
                environ["PATH_INFO"] += path
            said = ask(app, path, question, **environ)
            assert said.status == 403, said
            assert "Quillet" not in said.body
            assert TOKEN not in said.body

    each_holds(STRANGERS, refused, str)


def test_the_page_is_answered_and_asks_nobody_else(app: Application) -> None:
    page = ask(app, "")
    assert page.status == 200
    assert "A small study (invented)" in page.body
    assert "an aid to judgement" in page.body.lower()
    for body in (page.body, ask(app, "live.css").body, ask(app, "live.js").body):
        assert "https://" not in body
        assert "http://" not in body.replace("http://www.w3.org/2000/svg", "")
    assert page.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert page.headers["Referrer-Policy"] == "no-referrer"
    assert ask(app, "", HTTP_HOST=f"localhost:{PORT}").status == 200


OUTSIDE = (
    "study.toml",
    "../study.toml",
    "%2e%2e/study.toml",
    "..",
    "/etc/passwd",
    "live.css/../../x",
    "answer/",
    "LIVE.JS",
)


def test_no_address_leads_to_a_file(app: Application) -> None:
    each_holds(OUTSIDE, lambda path: _is(ask(app, path).status, 404), str)
    assert ask(app, "answer").status == 405
    assert ask(app, "", {"held": {}}).status == 405
    assert ask(app, "live.js", REQUEST_METHOD="PUT").status == 405


def _is(found: int, wanted: int) -> None:
    assert found == wanted


QUESTIONS = [
    ({"held": {"flow.design_m3_s": "a lot"}}, "design flow: expected a number from"),
    ({"held": {"flow.design_m3_s": True}}, "design flow: expected a number from"),
    ({"held": {"flow.design_m3_s": -1}}, "design flow: expected a number from"),
    ({"held": {"lane.screen.blockage": 1.01}}, "expected a number from 0 to 1"),
    ({"held": {"lane.screen.gap_m": 0.15}}, 'held: expected "flow.design_m3_s"'),
    ({"held": [1, 2]}, "held: expected a table of numbers"),
    ([], "expected a table in JSON"),
    ({"held": {"flow.design_m3_s": float("nan")}}, "design flow: expected a number from"),
    ({"held": {"flow.design_m3_s": float("inf")}}, "design flow: expected a number from"),
]


def test_a_bad_number_gets_one_message(app: Application) -> None:
    def refused(row: tuple[object, str]) -> None:
        question, words = row
        for path in ("answer", "arrangements", "copy"):
            said = ask(app, path, question)
            assert said.status == 400
            assert words in said.told["fault"]
            assert "; got" in said.told["fault"]

    each_holds(QUESTIONS, refused, str)


def test_a_question_that_is_none_is_refused(app: Application) -> None:
    odd = [
        {"CONTENT_TYPE": "text/plain"},
        {"CONTENT_LENGTH": "99999999"},
        {"CONTENT_LENGTH": "-1"},
        {"CONTENT_LENGTH": "3"},
    ]
    each_holds(odd, lambda environ: _is(ask(app, "answer", {"held": {}}, **environ).status, 400), str)


def test_an_answer_holds_figures_with_their_intervals(app: Application) -> None:
    said = ask(app, "answer", {"held": {"lane.screen.blockage": 0.5}}).told
    assert said["level"] < said["bank"]
    assert said["above"] is False
    assert len(said["over"]) == len(said["assured"]) == 2
    assert [each["id"] for each in said["elements"]] == ["lane", "garden"]
    assert said["blocked"] == {"lane.screen.blockage": 0.5}
    assert said["lost"] == ""
    rows = ask(app, "arrangements", {"held": {"lane.screen.blockage": 0.5}}).told["rows"]
    assert [row["name"] for row in rows] == ["as it stands", "wide gaps", "raked"]
    assert rows[0]["over"] == said["over"]
    assert rows[2]["kept"] == "sets lane.screen.blockage itself"


def test_nothing_is_written_before_it_was_asked_about(tmp_path: Path) -> None:
    app = application(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    held = {"flow.design_m3_s": 7.0, "lane.bank_level_m": 32.5}
    asked = ask(app, "copy", {"held": held, "folder": "higher wall"})
    assert asked.status == 200
    assert sorted(tmp_path.rglob("*")) == before
    assert ask(app, "write", {"word": "guessed"}).status == 400
    assert sorted(tmp_path.rglob("*")) == before
    written = ask(app, "write", {"word": asked.told["word"]})
    assert written.status == 200
    copy = read_study(tmp_path / "higher wall")
    assert copy.content.flow.design_m3_s.median == 7.0
    assert (tmp_path / "study.toml").read_bytes() == app.live.study.text.encode()
    assert ask(app, "write", {"word": asked.told["word"]}).status == 400  # good for one time
    again = ask(app, "copy", {"held": held, "folder": "higher wall"})
    assert again.status == 400
    assert "not there yet" in again.told["fault"]


def test_only_the_last_question_may_be_agreed_to(tmp_path: Path) -> None:
    app = application(tmp_path)
    first, _ = (ask(app, "copy", {"held": {"flow.design_m3_s": q}, "folder": "one"}) for q in (6.5, 7.5))
    assert ask(app, "write", {"word": first.told["word"]}).status == 400
    assert not (tmp_path / "one").exists()


def test_what_the_study_says_cannot_become_markup(tmp_path: Path) -> None:
    from overbank.live.answers import Live
    from small import study

    title = ('title = "A small study (invented)"', "title = '</script><script>alert(1)</script>'")
    changed = study(tmp_path, title, ("samples = 4096", "samples = 256"))
    page = ask(Application(Live(changed), TOKEN), "").body
    assert "<script>alert" not in page
    data = page.split('id="live-data">')[1].split("</script>")[0]
    assert json.loads(data)["place"] == "lane"
