"""Log lists: taken whole or not at all, every bad line named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.measure import FT_M, IN_M, LogListError, log_list_template, read_log_list


def refused(text: str, **options) -> LogListError:
    with pytest.raises(LogListError) as caught:
        read_log_list(text, **options)
    return caught.value


def found(error: LogListError) -> list[tuple[int, str]]:
    return [(problem.line, problem.field) for problem in error.problems]


def test_the_templates_are_taken_as_they_stand():
    english, french = read_log_list(log_list_template()), read_log_list(log_list_template("fr_CA"))

    names = ["acer_saccharum"] * 3 + ["betula_alleghaniensis", "unnamed"]
    assert [row.species_id for row in english] == names
    assert [row.species_id for row in french] == names
    assert english[0].length_m == pytest.approx(8 * FT_M)
    assert english[0].mid_d_m == pytest.approx(12 * IN_M)
    assert english[0].bark_thickness_m == pytest.approx(0.5 * IN_M)
    assert french[0].length_m == pytest.approx(2.44)
    assert [row.volume().formula for row in french] == ["huber"] * 3 + ["smalian", "newton"]


@pytest.mark.parametrize(
    "text",
    [
        "species,length_ft,mid_in\nred maple,8,12\n",
        "species;length_ft;mid_in\nred maple;8;12\n",
        "species\tlength_ft\tmid_in\nred maple\t8\t12\n",
        "\ufeffspecies,length (ft),mid [in]\r\nred maple,8,12\r\n",
        "Species, Length ft, Mid diameter in\nRED MAPLE, 8, 12\n",
        "species,length,mid\nred maple,8ft,12in\n",
        "species,length,mid\nred maple,8',12\"\n",
        'species,length,mid\n"red maple","8 ft","12 in"\n',
        "species,length,mid\nred maple,7' 12\",11 2/2 in\n",
        "species,length_m,mid_cm\nred maple,2.4384,30.48\n",
        "essence;longueur;diamètre\nérable rouge;8 pi;12 po\n",
        "essence;longueur_m;milieu_cm\nérable rouge;2,4384;30,48\n",
        "species,length_ft,mid_in,note\n\n# measured on the truck\nred maple,8,12,blue paint\n,,,\n",
        "mid_in,length_ft,species\n12,8,acer rubrum\n",
    ],
)
def test_one_log_written_many_ways(text):
    (row,) = read_log_list(text)

    assert row.species_id == "acer_rubrum"
    assert row.length_m == pytest.approx(8 * FT_M)
    assert row.mid_d_m == pytest.approx(12 * IN_M)


def test_species_may_be_left_open():
    text = "length_m,mid_cm\n2.4,30\n"

    assert read_log_list(text)[0].species_id == "unnamed"
    assert read_log_list(text, default_species="quercus")[0].species_id == "quercus"


def test_a_count_gives_as_many_logs_of_that_line():
    rows = read_log_list("length_m,mid_cm,count\n2.4,30,3\n2.4,20,\n")

    assert [row.line for row in rows] == [2, 2, 2, 3]


def test_every_bad_line_is_named_and_nothing_is_taken():
    error = refused(
        "species,length_ft,mid_in,bark_in,count\n"
        "sugar maple,8,12,0.5,1\n"
        "sugar mapel,8,12,0.5,1\n"
        "merisier,8,12,0.5,1\n"
        "oak,0,12,0.5,1\n"
        "oak,8,-3,0.5,1\n"
        "oak,8,4000,0.5,1\n"
        "oak,8,12,7,1\n"
        "oak,8,12,0.5,two\n"
        "oak,,12,0.5,1\n"
        "oak,8,,0.5,1\n"
        "oak,8,12,0.5,1,extra\n"
        "oak,long,wide,0.5,1\n"
    )

    assert found(error) == [
        (3, "species"),
        (4, "species"),
        (5, "length_ft"),
        (6, "mid_in"),
        (7, "mid_in"),
        (8, "bark_in"),
        (9, "count"),
        (10, "length_ft"),
        (11, "mid_in"),
        (12, "list"),
        (13, "length_ft"),
        (13, "mid_in"),
    ]
    message = str(error)
    assert "sugar maple" in message  # the nearest name
    assert "got 4000 in" in message  # as typed, with the column's unit
    assert all(f"Line {line}," in message for line in range(3, 14))
    answer = error.as_dict()
    assert answer["code"] == "bad_list"
    assert len(answer["problems"]) == 12


def test_two_ends_must_be_two_and_in_order():
    error = refused("length_m,small_cm,large_cm\n2.4,30,\n2.4,30,25\n")

    assert found(error) == [(2, "small_cm, large_cm"), (3, "small_cm, large_cm")]


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ("", 1, "list"),
        ("\n\n", 1, "list"),
        ("species,length_ft,mid_in\n", 1, "list"),
        ("sugar maple,8ft,12in\n", 1, "sugar maple"),
        ("species,mid_in\noak,12\n", 1, "length"),
        ("species,length_ft\noak,8\n", 1, "mid"),
        ("length_ft,small_in\n8,12\n", 1, "mid"),
        ("length_ft,length_m,mid_in\n8,2,12\n", 1, "length_ft, length_m"),
        ("length_ft,mid_in,colour\n8,12,red\n", 1, "colour"),
        ("length,mid\n8,12\n", 2, "length"),  # no unit anywhere
        ('length_m,mid_cm\n"2,4",30\n', 2, "length_m"),  # may be thousands
        ("length_m,mid_cm\n2.4 kg,30\n", 2, "length_m"),
        ("length_m,mid_cm\n1e3,30\n", 2, "length_m"),
        ("length_m,mid_cm\n2.4,nan\n", 2, "mid_cm"),
        ('length_m,mid_cm\n"2.4,30\n', 2, "list"),
    ],
)
def test_lists_that_are_not_taken(text, line, field):
    error = refused(text)

    assert (line, field) in found(error)
    assert error.problems[0].text.values["next_move"]


def test_no_more_logs_than_the_limit():
    head = "length_m,mid_cm,count\n"

    assert len(read_log_list(head + "2.4,30,10000\n")) == 10_000
    assert found(refused(head + "2.4,30,9999\n2.4,30,2\n")) == [(3, "list")]
    assert found(refused(head + "2.4,30,1\n" * 4, max_rows=3)) == [(5, "list")]
    assert found(refused(head + "2.4,30,999999999999\n")) == [(2, "count")]


def test_a_long_list_of_faults_is_counted_not_recited():
    error = refused("length_m,mid_cm\n" + "x,30\n" * 100)

    assert len(error.problems) == 100
    assert "100 mistakes" in str(error)
    assert "And 75 more." in str(error)


def test_many_unknown_names_are_all_named_but_not_all_compared():
    error = refused("species,length_m,mid_cm\n" + "".join(f"sugar mapel{n},2.4,30\n" for n in range(1, 101)))

    assert [problem.line for problem in error.problems] == list(range(2, 102))
    moves = [str(problem.next_move) for problem in error.problems]
    assert all("maple" in move for move in moves[:50])
    assert set(moves[50:]) == {"Correct the names above first."}


@given(
    st.lists(
        st.tuples(st.floats(0.5, 12.0), st.floats(5.0, 120.0), st.sampled_from(["acer_rubrum", "Picea", ""])),
        min_size=1,
        max_size=20,
    ),
    st.sampled_from([(",", "."), (";", ","), ("\t", ",")]),
)
def test_what_is_written_is_read(logs, signs):
    """Sizes to 0.1 mm and 0.001 cm in either way of writing numbers."""
    delimiter, point = signs
    lines = [delimiter.join(("species", "length_m", "mid_cm"))]
    for length, mid, name in logs:
        lines.append(
            delimiter.join((name, f"{length:.4f}".replace(".", point), f"{mid:.3f}".replace(".", point)))
        )

    rows = read_log_list("\n".join(lines))

    assert [row.length_m for row in rows] == pytest.approx([length for length, _, _ in logs], abs=6e-5)
    assert [row.mid_d_m for row in rows] == pytest.approx([mid / 100 for _, mid, _ in logs], abs=6e-6)
    assert [row.species_id for row in rows] == [name.lower() or "unnamed" for _, _, name in logs]


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text):
    try:
        rows = read_log_list(text)
    except LogListError as error:
        assert error.problems  # noqa: PT017
    else:
        assert rows


@given(st.text(alphabet="0123456789.,'\"/ -+mcftinpo", max_size=12))
def test_any_cell_is_read_or_refused(cell):
    text = f"length_m;mid_cm\n{cell};30\n"
    try:
        (row,) = read_log_list(text)
    except LogListError as error:
        assert error.problems[0].line in (1, 2)  # noqa: PT017
    else:
        assert 0.05 <= row.length_m <= 40.0
