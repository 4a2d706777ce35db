"""CSV out and in: what goes out comes in again, and nothing bad slips in."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from shopflow.records.models import LedgerRow
from shopflow.shop import actions, csv_files, queries
from shopflow.shop.models import Holder, Machine, Material, StockBar, Tool
from shopflow.shop.tables import TABLES
from tests.people_fixtures import make_person
from tests.shop.objects import ROWS, a_tool, kept

CRIB = TABLES["crib"]
HEAD = "number,name,shape,diameter,point_angle"


def read(text, key="crib"):
    return csv_files.read(TABLES[key], text)


def crib(*lines, head=HEAD):
    return read("\n".join([head, *lines]))


def out(key="crib"):
    return csv_files.write(TABLES[key], queries.rows_of(TABLES[key].model))


def send(client, text, key="crib", **more):
    file = SimpleUploadedFile("table.csv", text if isinstance(text, bytes) else text.encode(), "text/csv")
    return client.post(reverse(f"shop:{key}_read"), {"file": file, **more})


@pytest.fixture
def one_of_each(db):
    holder = kept(ROWS["holders"]())
    for key, make in ROWS.items():
        if key != "holders":
            kept(make())
    kept(
        a_tool(
            12, name='drill, "long" 1/4″', shape="drill", diameter="1/4 in", point_angle="118", holder=holder,
            uses=["drill", "spot"], through_coolant=True, centre_cutting=False, note="=from the old crib", on_hand=0,
        )
    )  # fmt: skip


@pytest.mark.parametrize("key", TABLES)
def test_a_file_read_again_changes_nothing(one_of_each, key):
    reading = read(out(key), key)
    assert reading.is_all_good
    assert len(reading.lines) == TABLES[key].model.objects.count()
    assert reading.rows == []


@pytest.mark.parametrize("key", TABLES)
def test_a_file_read_into_an_empty_table_makes_it_again(one_of_each, lead, key):
    before = out(key)
    if key == "holders":
        Tool.objects.all().delete()
    if key == "materials":
        StockBar.objects.all().delete()
    TABLES[key].model.objects.all().delete()
    csv_files.apply(read(before, key), by=lead)
    assert out(key) == before


def test_typed_text_is_kept_through_the_file(one_of_each):
    assert "1/4 in" in out()


def test_a_cell_that_a_spreadsheet_would_run_is_guarded(one_of_each):
    assert "'=from the old crib" in out()


@given(st.text(alphabet="=+-@'1.5a \t", max_size=8))
def test_guarding_a_cell_is_undone_by_reading(text):
    assert csv_files.unguarded(csv_files.guarded(text)) == text


@given(st.text(alphabet="=+-@'a(", min_size=1, max_size=8))
def test_no_guarded_cell_begins_like_a_formula(text):
    assert csv_files.guarded(text)[0] not in "=+-@" or text.lstrip("+-").replace(".", "").isdigit()


def test_a_negative_number_is_no_formula():
    assert csv_files.guarded("-1.5") == "-1.5"


def test_a_new_line_is_added(lead):
    csv_files.apply(crib("5,centre drill,spot drill,3.15 mm,90"), by=lead)
    assert str(Tool.objects.get(number=5).diameter) == "3.15 mm"


def test_a_column_that_is_missing_stays_as_it_is(lead):
    kept(a_tool(5, note="keep me", flutes=7))
    csv_files.apply(crib("5,renamed", head="number,name"), by=lead)
    tool = Tool.objects.get()
    assert (tool.name, tool.note, tool.flutes) == ("renamed", "keep me", 7)


def test_a_row_that_the_file_does_not_name_stays(lead):
    kept(a_tool(4))
    csv_files.apply(crib("5,spot,spot drill,6 mm,90"), by=lead)
    assert Tool.objects.count() == 2


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("5,x,spot drill,wide,90", "diameter “wide”"),
        ("5,x,hammer,6 mm,90", "shape “hammer”"),
        ("five,x,spot drill,6 mm,90", "number “five”"),
        (",x,spot drill,6 mm,90", "number “”"),
        ("5,x,drill,6 mm,180", "included angle"),
        ("5,x,spot drill,6 mm", "It has 4 cells, the first line has 5."),
        ("5,x,spot drill,6 mm,90,90", "It has 6 cells"),
    ],
)
def test_a_bad_line_says_what_was_not_understood(db, line, said):
    (bad,) = crib(line).bad
    assert bad.number == 2
    assert said in " ".join(bad.problems)


def test_a_word_that_is_neither_yes_nor_no_is_not_understood(db):
    (bad,) = crib("5,x,spot drill,6 mm,90,perhaps", head=f"{HEAD},through_coolant").bad
    assert "through_coolant “perhaps”: type yes or no." in bad.problems


def test_a_holder_that_is_not_there_is_not_understood(db):
    (bad,) = crib("5,x,spot drill,6 mm,90,no such", head=f"{HEAD},holder").bad
    assert "holder “no such”" in bad.problems[0]


def test_a_use_that_is_not_known_is_not_understood(db):
    (bad,) = crib("5,x,spot drill,6 mm,90,drill; hammer", head=f"{HEAD},uses").bad
    assert "uses “drill; hammer”" in bad.problems[0]


def test_two_lines_about_the_same_tool_are_told(db):
    (bad,) = crib("5,a,spot drill,6 mm,90", "5,b,spot drill,6 mm,90").bad
    assert (bad.number, bad.problems) == (3, ["Line 2 is about the same one."])


def test_an_unknown_column_is_told(db):
    reading = crib("5,x,spot drill,6 mm,90,red", head=f"{HEAD},colour")
    assert reading.problems == ["The column “colour” is not known and was left out."]
    assert not reading.is_all_good


def test_a_file_without_the_naming_column_is_refused(db):
    with pytest.raises(csv_files.NotCsv, match="“number”"):
        crib("x,6 mm", head="name,diameter")


@pytest.mark.parametrize("text", ["", "\n\n"])
def test_an_empty_file_is_refused(db, text):
    with pytest.raises(csv_files.NotCsv, match="empty"):
        read(text)


def test_a_broken_quotation_is_refused_with_its_line(db):
    with pytest.raises(csv_files.NotCsv, match="Line 2"):
        crib('5,"x" y,spot drill,6 mm,90')


def test_a_binary_file_is_refused():
    with pytest.raises(csv_files.NotCsv, match="not a text file"):
        csv_files.decode(b"PK\x03\x04\0\0")


def test_a_file_that_is_too_large_is_refused():
    with pytest.raises(csv_files.NotCsv, match="1 MB"):
        csv_files.decode(b"x" * (csv_files.MOST_BYTES + 1))


def test_the_mark_in_front_of_utf8_is_no_part_of_the_heading():
    assert csv_files.decode(b"\xef\xbb\xbfnumber")[0] == "number"


def test_another_encoding_is_read_and_told():
    text, problems = csv_files.decode("Fräser".encode("cp1252"))
    assert text == "Fräser"
    assert len(problems) == 1


@pytest.mark.parametrize("mark", [";", "\t"])
def test_semicolons_and_tabs_part_cells_too(db, mark):
    assert crib("5,x,spot drill,6 mm,90".replace(",", mark), head=HEAD.replace(",", mark)).is_all_good


def test_a_decimal_comma_is_kept_where_semicolons_part_the_cells(db, lead):
    csv_files.apply(crib("5;x;spot drill;6,35 mm;90", head=HEAD.replace(",", ";")), by=lead)
    assert str(Tool.objects.get().diameter) == "6,35 mm"


def test_a_good_file_is_saved_at_once(client, lead):
    client.force_login(lead)
    assert send(client, f"{HEAD}\n5,x,spot drill,6 mm,90\n").status_code == 302
    assert Tool.objects.count() == 1


def test_a_file_with_one_bad_line_changes_nothing(client, lead):
    client.force_login(lead)
    page = send(client, f"{HEAD}\n5,x,spot drill,6 mm,90\n6,y,spot drill,wide,90\n")
    assert page.status_code == 422
    assert "is not a length" in page.text
    assert not Tool.objects.exists()
    assert not LedgerRow.objects.exists()


def test_the_good_lines_are_saved_when_the_person_says_so(client, lead):
    client.force_login(lead)
    text = f"{HEAD}\n5,x,spot drill,6 mm,90\n6,y,spot drill,wide,90\n"
    shown = send(client, text).context["reading"].text
    client.post(reverse("shop:crib_read"), {"text": shown, "only_good": "true"})
    assert [tool.number for tool in Tool.objects.all()] == [5]


def test_no_file_is_told(client, lead):
    client.force_login(lead)
    page = client.post(reverse("shop:crib_read"), {})
    assert page.status_code == 422
    assert "Choose a file first" in page.text


@pytest.mark.parametrize("key", TABLES)
def test_the_page_gives_a_file_that_it_takes_again(client, lead, one_of_each, key):
    client.force_login(lead)
    given_out = client.get(reverse(f"shop:{key}_csv")).content
    assert send(client, given_out, key).status_code == 302
    assert not LedgerRow.objects.exists()


def test_the_heading_names_the_fields(one_of_each):
    assert next(csv.reader(io.StringIO(out("holders")))) == ["name", "profile", "seen"]


def test_the_profile_of_a_holder_goes_through_the_file_as_typed(lead):
    csv_files.apply(read("name,profile\nchuck,0 20.50; 30 20.50\n", "holders"), by=lead)
    assert Holder.objects.get().profile == [["0", "20.50"], ["30", "20.50"]]


def test_numbers_of_machines_and_materials_go_through_the_file(lead):
    csv_files.apply(
        read("name,travel_x,travel_y,travel_z,power_kw,control\nMill,20 in,400 mm,400,7.5,increment\n", "machines"),
        by=lead,
    )
    csv_files.apply(read("name,group,density,needs_heat_number\nbrass,brass,8530.5,yes\n", "materials"), by=lead)
    assert str(Machine.objects.get().travel_x) == "20 in"
    assert Material.objects.get().needs_heat_number is True
    assert "8530.5" in out("materials")


# Two people at one table


@pytest.fixture
def ada(db):
    return make_person("ada_ahead", "lead")


def edited(text, **cells):
    """The file as a person changes it in a spreadsheet: cells of its first row."""
    rows = list(csv.DictReader(io.StringIO(text)))
    rows[0].update(cells)
    changed = io.StringIO()
    writer = csv.DictWriter(changed, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    return changed.getvalue()


def regrind(by):
    tool = Tool.objects.get()
    tool.diameter, tool.note = "9.8 mm", "reground"
    actions.save(tool, by=by)


@pytest.fixture
def written(db):
    """The crib of one tool as a file."""
    kept(a_tool())
    return out()


def test_a_row_that_somebody_saved_after_the_file_was_written_is_not_overwritten_unseen(written, ada):
    regrind(ada)
    reading = read(edited(written, on_hand="7"))
    said = " ".join(reading.bad[0].problems)
    assert reading.rows == []
    assert "Ada Ahead saved this row after the file was written" in said
    assert "diameter “9.8 mm”" in said
    assert "note “reground”" in said


def test_with_its_cell_emptied_the_row_is_taken_as_the_file_says_it(written, ada, lead):
    regrind(ada)
    csv_files.apply(read(edited(written, on_hand="7", seen="")), by=lead)
    now = Tool.objects.get()
    assert (now.on_hand, now.note) == (7, "")


def test_a_row_that_nobody_saved_since_is_taken(written, lead):
    csv_files.apply(read(edited(written, on_hand="7")), by=lead)
    assert Tool.objects.get().on_hand == 7


def test_a_row_that_says_what_the_table_says_by_now_is_no_conflict(written, ada):
    regrind(ada)
    reading = read(edited(written, diameter="9.8 mm", note="reground"))
    assert reading.is_all_good
    assert reading.rows == []


def test_a_table_changed_while_its_lines_are_looked_at_is_shown_again(client, written, ada, lead):
    client.force_login(lead)
    text = edited(written, on_hand="7", seen="") + "x,y\n"
    shown = send(client, text).context["reading"]
    regrind(ada)
    sent = {"text": shown.text, "only_good": "true", "state": shown.state}
    again = client.post(reverse("shop:crib_read"), sent)
    assert again.status_code == 422
    assert "Somebody changed the table while this page was open" in again.text
    assert Tool.objects.get().note == "reground"
    client.post(reverse("shop:crib_read"), {**sent, "state": again.context["reading"].state})
    assert Tool.objects.get().on_hand == 7
