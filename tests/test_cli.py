"""The commands: exit status, which files are meant, where results go. Rules are made up here."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from netcheck import __version__, plugins
from netcheck.circuit import Circuit
from netcheck.cli import app
from netcheck.findings import Finding, Harm, NotChecked
from netcheck.rules._base import Case, Rule, RuleDoc

Lint = Callable[..., Result]

GOOD = 'set "quiet"\nline none\nR1 470K 1/2 W: X1 to X2\nR2 470K 1/2 W: X1 to X2\n'
BAD = 'set "noisy"\nline none\nR1 470K 1/2 W: X1 to X2\nR2 1K 1/2 W: X1 to X2\n'


def find_1k(case: Case) -> Iterator[Finding | NotChecked]:
    for part in case.chassis.of_kind("resistor"):
        if part.value("resistance") == 1000.0:
            yield case.finding(
                f"{part.ref} is 1 K", part.span, action="fit another", parts=(part.ref,)
            )


def tell_mistakes(case: Case) -> Iterator[Finding | NotChecked]:
    yield from case.from_reading()


def made_up(name: str, check: Callable[[Case], Iterator[Finding | NotChecked]]) -> Rule:
    words = RuleDoc(
        f"Made up: {name}", "it matters", "when it is not", "common practice, no source"
    )
    return Rule(name, Harm.DAMAGE, words, check)


@pytest.fixture
def lint(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Lint:
    """Run `netcheck lint` in an empty folder with two rules made up for these tests."""
    rules = (made_up("one-k", find_1k), made_up("unreadable", tell_mistakes))
    monkeypatch.setattr(plugins, "installed_rules", lambda: rules)
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str, stdin: str | bytes | None = None) -> Result:
        return CliRunner().invoke(app, ["lint", *arguments], input=stdin, prog_name="netcheck")

    return run


@pytest.fixture
def good(tmp_path: Path) -> str:
    (tmp_path / "good.chassis").write_text(GOOD)
    return "good.chassis"


@pytest.fixture
def bad(tmp_path: Path) -> str:
    (tmp_path / "bad.chassis").write_text(BAD)
    return "bad.chassis"


def test_a_set_without_findings_exits_0(lint: Lint, good: str) -> None:
    result = lint(good)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "That is no clearance" in " ".join(result.stdout.split())
    assert "one-k" in result.stdout


def test_a_finding_at_the_threshold_exits_1(lint: Lint, bad: str) -> None:
    result = lint(bad)
    assert result.exit_code == 1
    assert "R2 is 1 K" in result.stdout


@pytest.mark.parametrize(
    ("threshold", "status"), [("record", 1), ("damage", 1), ("burst", 0), ("shock-now", 0)]
)
def test_the_threshold_is_a_harm(lint: Lint, bad: str, threshold: str, status: int) -> None:
    assert lint(bad, "--fail-on", threshold).exit_code == status


def test_an_accepted_finding_does_not_count(lint: Lint, bad: str, tmp_path: Path) -> None:
    with (tmp_path / bad).open("a") as stream:
        stream.write('accept one-k on R2: "as the maker built it"\n')
    result = lint(bad)
    assert result.exit_code == 0
    assert '"as the maker built it"' in result.stdout


def test_a_missing_file_exits_2_and_the_others_are_still_linted(lint: Lint, bad: str) -> None:
    result = lint("gone.chassis", bad)
    assert result.exit_code == 2
    assert "R2 is 1 K" in result.stdout
    assert "gone.chassis" in result.stdout
    assert "NOT READ WHOLE" in result.stdout


def test_a_text_that_cannot_be_read_exits_2(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "odd.chassis").write_text(GOOD + "R3 ][: X1 to X2\n")
    result = lint("odd.chassis")
    assert result.exit_code == 2
    assert "line 5" in result.stdout


def test_a_set_that_is_not_solved_exits_2(lint: Lint, tmp_path: Path) -> None:
    tube = "V1 6J5: plate X1, grid X2, cathode B-, heater open\n"
    (tmp_path / "tube.chassis").write_text(GOOD + tube + "R3 ? 1 W: X1 to B-\n")
    assert lint("tube.chassis").exit_code == 2
    (tmp_path / "tube.chassis").write_text(GOOD + tube + "R3 2K 1 W: X2 to B-\nhold X1 90 V\n")
    assert lint("tube.chassis").exit_code == 0


def test_a_fault_of_the_computation_is_no_traceback(
    lint: Lint, good: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its rules tell of it; what the runner itself asks for must not bring the command down."""

    def broken(self: Circuit) -> bool:
        raise ZeroDivisionError

    monkeypatch.setattr(Circuit, "solved", property(broken))
    result = lint(good)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_bytes_that_are_no_text_exit_2(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "odd.chassis").write_bytes(b"R1 470K: X1 to X2\n\xff\xfe\x00")
    assert lint("odd.chassis").exit_code == 2
    assert lint("-", stdin=b"R1 470K: X1 to X2\n\xff\xfe\x00").exit_code == 2


def test_a_dash_is_standard_input(lint: Lint) -> None:
    result = lint("-", stdin=BAD)
    assert result.exit_code == 1
    assert "<stdin>, line 4" in result.stdout


def test_a_folder_is_searched_in_order_and_hidden_ones_are_not(lint: Lint, tmp_path: Path) -> None:
    for name in ("b/two.chassis", "a.chassis", "b/.hidden.chassis", ".git/x.chassis", "b/no.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(GOOD)
    (tmp_path / "b" / "loop").symlink_to(tmp_path)
    result = lint(str(tmp_path), "--as", "json")
    assert result.exit_code == 0
    files = [Path(each["file"]) for each in json.loads(result.stdout)["sets"]]
    assert files == [tmp_path / "a.chassis", tmp_path / "b" / "two.chassis"]


def test_a_file_named_twice_is_linted_once(lint: Lint, bad: str, tmp_path: Path) -> None:
    result = lint(bad, str(tmp_path), f"./{bad}", "--as", "json")
    assert len(json.loads(result.stdout)["sets"]) == 1


def test_a_folder_without_sets_exits_2(lint: Lint, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    result = lint("empty")
    assert result.exit_code == 2
    assert "there is no set (*.chassis) below this folder" in result.stdout
    told = json.loads(lint("empty", "--as", "json").stdout)["sets"][0]
    assert (told["file"], told["read"]) == ("empty", False)


def test_nothing_asked_for_exits_2(lint: Lint) -> None:
    result = lint()
    assert (result.exit_code, result.stdout) == (2, "")
    assert "name a set" in result.stderr


def test_a_result_is_saved_where_asked(lint: Lint, bad: str, tmp_path: Path) -> None:
    result = lint(bad, "--as", "json", "-o", "out.json")
    assert (result.exit_code, result.stdout) == (1, "")
    assert json.loads((tmp_path / "out.json").read_text())["shape"] == 1


def test_a_saved_file_is_not_overwritten(lint: Lint, bad: str, tmp_path: Path) -> None:
    (tmp_path / "out.txt").write_text("mine")
    result = lint(bad, "-o", "out.txt")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "add --replace" in result.stderr
    assert (tmp_path / "out.txt").read_text() == "mine"
    assert lint(bad, "-o", "out.txt", "--replace").exit_code == 1
    assert "R2 is 1 K" in (tmp_path / "out.txt").read_text()


def test_the_set_itself_is_never_overwritten(lint: Lint, bad: str, tmp_path: Path) -> None:
    result = lint(str(tmp_path), "-o", bad, "--replace")
    assert result.exit_code == 2
    assert (tmp_path / bad).read_text() == BAD


def test_a_fault_of_our_own_is_a_sentence(
    lint: Lint, bad: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(path: str, rules: object) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr("netcheck.cli._linted", broken)
    result = lint(bad)
    assert result.exit_code == 2
    assert "fault of netcheck, not of your set" in result.stderr
    assert f"in {bad}" in result.stderr
    assert "Traceback" not in result.output


def test_rules_that_cannot_be_loaded_are_a_sentence(
    lint: Lint, bad: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> None:
        raise plugins.BadPlugin("somebody", "door", "it is broken")

    monkeypatch.setattr(plugins, "installed_rules", broken)
    result = lint(bad)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "the rules of somebody" in result.stderr


@pytest.mark.parametrize("command", [["lint", "bad.chassis"], ["why"]])
def test_no_rules_at_all_is_no_pass(
    lint: Lint, bad: str, monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    monkeypatch.setattr(plugins, "installed_rules", lambda: ())
    result = CliRunner().invoke(app, command)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no rules are installed" in result.stderr


@pytest.mark.parametrize("command", ["lint", "why", "tube", "plugins"])
def test_schema_prints_the_schema(command: str) -> None:
    result = CliRunner().invoke(app, [command, "--schema"])
    assert result.exit_code == 0
    assert json.loads(result.stdout)["$id"] == f"urn:netcheck:{command}:1"


def test_version() -> None:
    result = CliRunner().invoke(app, ["--version"])
    assert (result.exit_code, result.stdout) == (0, f"netcheck {__version__}\n")


@pytest.fixture
def why(monkeypatch: pytest.MonkeyPatch) -> Lint:
    rules = (made_up("one-k", find_1k), replace(made_up("two-k", find_1k), harm=Harm.SHOCK))
    monkeypatch.setattr(plugins, "installed_rules", lambda: rules)
    return lambda *arguments: CliRunner().invoke(app, ["why", *arguments])


def test_why_tells_one_rule(why: Lint) -> None:
    for spelling in ("one-k", "ONE_K"):
        result = why(spelling)
        assert result.exit_code == 0
        assert "Made up: one-k" in result.stdout


def test_why_lists_all_rules_worst_first(why: Lint) -> None:
    listed = why().stdout
    assert listed.index("two-k") < listed.index("one-k")
    assert [each["name"] for each in json.loads(why("--as", "json").stdout)["rules"]] == [
        "two-k",
        "one-k",
    ]


@pytest.mark.parametrize(
    ("name", "remedy"), [("onek", "did you mean one-k?"), ("zzzzzz", "lists them all")]
)
def test_an_unknown_rule_is_answered_with_the_nearest(why: Lint, name: str, remedy: str) -> None:
    result = why(name)
    assert (result.exit_code, result.stdout) == (2, "")
    assert remedy in result.stderr


def tube(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["tube", *arguments])


def test_tube_tells_a_type_in_both_forms() -> None:
    text = tube("35w4")
    assert text.exit_code == 0
    assert text.stdout.startswith("35W4")
    told = json.loads(tube("35W4", "--as", "json").stdout)["tube"]
    assert told["name"] == "35W4"
    assert told["sources"]


@pytest.mark.parametrize(("name", "remedy"), [("35W44", "35W4"), ("#####", "`type` statement")])
def test_an_unknown_tube_is_answered_with_the_nearest(name: str, remedy: str) -> None:
    result = tube(name)
    assert (result.exit_code, result.stdout) == (2, "")
    assert remedy in result.stderr


def test_tube_without_a_type_asks_for_one() -> None:
    result = tube()
    assert result.exit_code == 2
    assert "name a tube type" in result.stderr
