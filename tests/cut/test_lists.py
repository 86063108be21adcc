"""Lists of logs and wares: taken whole, or refused with every bad line; odd ones are taken and said to be odd."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rickyard.cli.app import run
from rickyard.cut import read_logs, read_wares
from rickyard.measure import LogListError, read_log_list

HEAD = "log_id,length_m,d_large_cm,d_small_cm,species,defects\n"
WARES = "ware,piece_length_cm,value_per_solid_m3,wanted_solid_m3,min_d_cm,max_d_cm\nstove,40,110,,,\n"


def problems(text: str) -> list[str]:
    with pytest.raises(LogListError) as refused:
        read_logs(text)
    return [str(problem.text) for problem in refused.value.problems]


def test_units_in_the_head_or_in_the_cell() -> None:
    feet = read_logs(
        "log_id;length_ft;d_large_in;d_small_in;defects_ft\nA;8;12;10,5;2-2.5:nail|3ft-40in:rot\n"
    )
    log = feet.logs[0]

    assert log.length_m == pytest.approx(2.4384)
    assert (log.large_d_m, log.small_d_m) == pytest.approx((0.3048, 0.2667))
    assert [(d.from_m, d.to_m, d.kind) for d in log.defects] == [
        (pytest.approx(0.6096), pytest.approx(0.762), "nail"),
        (pytest.approx(0.9144), pytest.approx(1.016), "rot"),
    ]
    each = read_logs("billot;longueur;gros_bout;petit_bout;défauts\nB;8' 4\";30 cm;11po;\n").logs[0]
    assert each.length_m == pytest.approx(2.54)
    assert each.small_d_m == pytest.approx(0.2794)


def test_mixed_units_are_taken_and_said() -> None:
    read = read_logs(HEAD + "A,2.44,30,28,,\nB,8ft,30,11in,,\n")

    assert [round(log.length_m, 3) for log in read.logs] == [2.44, 2.438]
    assert len(read.notes) == 2
    assert "length_m is written in several units (ft, m)" in str(read.notes[0])
    assert read_logs("log_id,length,d_large_cm,d_small_cm\nA,8' 4\",30,28\n").notes == ()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("A,2.44,28,30,,", "at least as thick as the small end"),
        ("A,2.44,30,28,,2.3-2.6:rot", "within the log's length of 2.44 m"),
        ("A,2.44,30,28,,1.5-1.2:rot", "from the place nearer the thick end"),
        ("A,2.44,30,28,,rot", "defects such as"),
        ("A,2.44,30,28,,-0.1-0.2:rot", "from the place nearer the thick end"),
        ("A,2.44,,28,,", "a size, got nothing"),
        ("A,244,30,28,,", "0.05 m to 40 m, got 244"),
        ("A,2.44,30,28,beach,", "got beach. Nearest: "),
        ("A,tall,30,28,,", "Write it like 8ft"),
        ("A,2.44,30,28,,,,7", "6 cells, one per column"),
    ],
)
def test_a_bad_log_is_named(line: str, said: str) -> None:
    found = problems(HEAD + "Z,2.44,30,28,,\n" + line + "\n")

    assert len(found) == 1
    assert found[0].startswith("Line 3, ")
    assert said in found[0]


def test_every_bad_line_is_named_and_nothing_is_taken() -> None:
    found = problems(HEAD + "A,2.44,28,30,,\nA,x,30,28,,\nB,2.44,30,28,,9-10\nC,2.44,30,28,,\n")

    assert [text.split(",")[0] for text in found] == ["Line 2", "Line 3", "Line 3", "Line 4"]
    assert "a name that no other log has" in found[2]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "an empty list"),
        (HEAD, "at least one line under the column names"),
        ("log_id,length_m,d_large_cm\nA,2,30\n", "a column d_small"),
        ("log_id,length_m,d_large_cm,d_small_cm,colour\nA,2,30,28,red\n", "one of the column names"),
        ("log_id,length,d_large_cm,d_small_cm\nA,2,30,28\n", "Write the unit in the column's name"),
    ],
)
def test_a_list_that_is_none(text: str, said: str) -> None:
    assert said in problems(text)[0]


def test_ten_thousand_logs_are_read_and_one_more_is_refused() -> None:
    body = "".join(f"L{number},2.44,30,28,,\n" for number in range(10_000))

    assert len(read_logs(HEAD + body).logs) == 10_000
    assert "at most 10000 lines" in problems(HEAD + body + "M,2.44,30,28,,\n")[0]


def test_wares() -> None:
    read = read_wares(WARES + "hearth,18in,120,0.5,10,45\n").wares
    assert (read[1].length_m, read[1].wanted_m3, read[1].max_d_m) == (pytest.approx(0.4572), 0.5, 0.45)
    for line, said in (
        ("stove,50,110,,,", "a name that no other ware has"),
        ("b,50,dear,,,", "a number"),
        ("b,50,-3,,,", "from 0 to 1e+06"),
        ("b,50,110,,30,20", "at most the greatest diameter"),
    ):
        with pytest.raises(LogListError, match="Line 3") as refused:
            read_wares(WARES + line + "\n")
        assert said in str(refused.value)


def test_a_list_as_the_yard_measures_it_is_read_too() -> None:
    """Any list of logs: bark and sweep as told, several logs on a line, places in the unit of the length."""
    read = read_logs(
        "species;length_ft;mid_in;small_in;large_in;bark_in;sweep_in;defects;count;note\n"
        "sugar maple;8;12;;;0.5;;;3;A\nyellow birch;8;;9.5;11;0.25;3;2-3:nail;;B\n"
    )

    assert [log.log_id for log in read.logs] == ["A-1", "A-2", "A-3", "B"]
    assert (read.logs[0].large_d_m, read.logs[0].small_d_m) == pytest.approx((11 * 0.0254, 11 * 0.0254))
    birch = read.logs[3]
    assert (birch.large_d_m, birch.small_d_m) == pytest.approx((10.5 * 0.0254, 9 * 0.0254))
    assert birch.length_m == pytest.approx(8 * 0.3048 * (1 + 8 / 3 * (3 / 96) ** 2))
    assert (birch.defects[0].from_m, birch.defects[0].to_m) == pytest.approx((0.6096, 0.9144))
    assert "as thick all along: A." in str(read.notes[0])


def test_the_plan_s_list_is_read_as_logs() -> None:
    text = HEAD + "A,2.44,30,28,beech,1.16-1.33:nail;2-2.1:rot\nB,2.44,30,28,,\n"
    rows = read_log_list(text, defects=True)

    assert [(row.large_d_m, row.small_d_m) for row in rows] == [(0.30, 0.28)] * 2
    assert [one.kind for one in rows[0].defects] == ["metal", "rot"]
    assert [(one.from_m, one.to_m) for one in rows[0].defects] == [(1.16, 1.33), (2.0, 2.1)]
    for row, log in zip(rows, read_logs(text).logs, strict=True):
        assert (log.length_m, log.large_d_m, log.small_d_m) == (row.length_m, row.large_d_m, row.small_d_m)


def test_a_size_in_another_unit_is_said() -> None:
    """Millimetres under centimetres: 3.4 m thick among logs of 34 cm, and alone."""
    usual = "".join(f"L{number},3.2,34,28,,\n" for number in range(4))
    for body in (usual + "M,3.2,340,280,,\n", "M,3.2,340,280,,\n"):
        said = [str(note) for note in read_logs(HEAD + body).notes]
        assert len(said) == 2
        assert f"Lines {body.count(chr(10)) + 1}: " in said[0]
        assert "Another unit?" in said[0]


@pytest.fixture
def ask(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs `cut plan` on two lists, with --json; gives the code and the object, or the error."""

    def ask(logs: str, wares: str = WARES, *more: str) -> tuple[int, dict[str, Any]]:
        (tmp_path / "logs.csv").write_text(logs, encoding="utf-8")
        (tmp_path / "wares.csv").write_text(wares, encoding="utf-8")
        code = run(["cut", "plan", str(tmp_path / "logs.csv"), str(tmp_path / "wares.csv"), *more, "--json"])
        printed = capsys.readouterr()
        text = printed.out if code == 0 else printed.err
        assert not (printed.err if code == 0 else printed.out)
        return code, json.loads(text)

    return ask


def test_odd_input_is_planned_and_said(ask: Any) -> None:
    code, found = ask(
        HEAD + "A,2.00,30,28,oak,0.2-0.5:rot;0.4-0.6:nail\nB,0.90,30,28,,\n",
        WARES + "long,300,500,,,\n",
        "--kerf-mm",
        "0",
    )
    said = " ".join(found["warnings"])

    assert code == 0
    assert "The kerf is zero" in said
    assert "long is 3 m long, longer than any log" in said
    assert "Defects that overlap were taken together: A." in said
    assert found["bark_unknown_logs"] == 1
    assert found["bark_m3"] > 0.0
    assert [piece["from_m"] for piece in found["logs"][0]["pieces"]] == pytest.approx([0.6, 1.0, 1.4])


@pytest.mark.parametrize(
    ("more", "field"),
    [
        (("--kerf-mm", "-1"), "kerf_mm"),
        (("--trim-cm", "300"), "trim_cm"),
        (("--trim-cm", "100"), "trim_cm"),
        (("--paper", "a5"), "paper"),
        (("--units", "furlongs"), "units"),
    ],
)
def test_bad_options(ask: Any, more: tuple[str, str], field: str) -> None:
    code, found = ask(HEAD + "A,2.00,30,28,,\n", WARES, *more)

    assert code == 2
    assert found["error"]["field"] == field


def test_nothing_is_written_when_something_is_wrong(ask: Any, tmp_path: Path) -> None:
    pdf = tmp_path / "sheet.pdf"
    code, _ = ask(HEAD + "A,2.00,28,30,,\n", WARES, "--pdf", str(pdf))
    assert (code, pdf.exists()) == (2, False)

    # The drawings cannot be written, so the sheet is not either.
    good = HEAD + "A,2.00,30,28,,\n"
    code, found = ask(good, WARES, "--pdf", str(pdf), "--svg", str(tmp_path / "no" / "folder"))
    assert (code, found["error"]["field"]) == (2, "svg")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["logs.csv", "wares.csv"]

    (tmp_path / "drawn").mkdir()
    code, found = ask(good, WARES, "--pdf", str(pdf), "--svg", str(tmp_path / "drawn"))
    assert code == 0
    assert pdf.read_bytes().startswith(b"%PDF")
    assert [Path(name).name for name in found["written"]] == ["sheet.pdf", "0001-A.svg"]


def test_a_list_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cut", "plan", str(tmp_path / "none.csv"), str(tmp_path / "none.csv"), "--json"]) == 2
    assert json.loads(capsys.readouterr().err)["error"]["field"] == "logs"
    (tmp_path / "odd.csv").write_bytes(b"log_id\xff\xfe")
    assert run(["cut", "plan", str(tmp_path / "odd.csv"), str(tmp_path / "odd.csv"), "--json"]) == 2
    assert "UTF-8" in json.loads(capsys.readouterr().err)["error"]["message"]
