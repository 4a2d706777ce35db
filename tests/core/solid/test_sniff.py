"""What is refused before the geometry library sees it."""

import pytest

from shopflow.core.errors import Unreadable
from shopflow.core.solid.limits import DEFAULT, Limits
from shopflow.core.solid.sniff import sniff

HEAD = b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n"
TAIL = b"ENDSEC;\nEND-ISO-10303-21;\n"
BODY = b"#1=MANIFOLD_SOLID_BREP('part',#2);\n"


def refusal(tmp_path, data, name="part.step", limits=DEFAULT):
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(Unreadable) as caught:
        sniff(path, limits)
    assert caught.value.mend
    return caught.value


def test_a_file_with_a_solid_passes(tmp_path):
    path = tmp_path / "part.step"
    path.write_bytes(HEAD + BODY + TAIL)
    assert sniff(path, Limits()).has_solids


def test_a_comment_before_the_first_line_is_allowed(tmp_path):
    path = tmp_path / "part.step"
    path.write_bytes(b"\xef\xbb\xbf /* made on monday */\n" + HEAD + BODY + TAIL)
    assert sniff(path, Limits()).schema == "AP214"


def test_a_crowd_of_comments_is_read_in_one_go(tmp_path):
    assert "not a STEP model" in refusal(tmp_path, b"/**/ " * 12000 + b"ISO-10303-2").what


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"%PDF-1.7\n%\xe2\xe3", "PDF"),
        (b"PK\x03\x04" + bytes(40), "ZIP"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"solid plate\nfacet normal 0 0 1\n", "STL"),
        (b"<!doctype html><html>", "web page"),
        (bytes(range(256)) * 4, "binary"),
        (" " * 72 + "S      1\n" + " " * 72 + "G      1\n", "IGES"),
        ("ISO-10303-21;".encode("utf-16"), "UTF-16"),
    ],
)
def test_another_kind_of_file_named_step_is_called_by_its_kind(tmp_path, data, kind):
    data = data if isinstance(data, bytes) else data.encode()
    assert kind in refusal(tmp_path, data).what


def test_plain_text_is_not_a_step_model(tmp_path):
    assert "not a STEP model" in refusal(tmp_path, b"G0 X0 Y0\n").what


def test_an_empty_file_is_called_empty(tmp_path):
    assert "empty" in refusal(tmp_path, b"").what


def test_a_file_over_the_limit_is_too_large(tmp_path):
    said = refusal(tmp_path, HEAD + BODY + TAIL, limits=Limits(file_bytes=10))
    assert "too large" in said.what


def test_a_200_mb_file_is_refused_without_being_read(tmp_path):
    path = tmp_path / "large.step"
    with path.open("wb") as handle:
        handle.truncate(200 * 1024 * 1024)
    with pytest.raises(Unreadable, match="too large: 210 MB"):
        sniff(path, Limits())


def test_a_cut_off_file_says_where_it_ends(tmp_path):
    said = refusal(tmp_path, HEAD + BODY)
    assert "cut off" in said.what and said.where == f"byte {len(HEAD + BODY)}"


def test_a_file_without_a_data_section_is_damaged(tmp_path):
    assert "damaged" in refusal(tmp_path, b"ISO-10303-21;\nHEADER;\nEND-ISO-10303-21;\n").what


def test_a_tessellated_file_is_told_from_an_empty_one(tmp_path):
    said = refusal(tmp_path, HEAD + b"#1=TESSELLATED_SOLID('',(#2),$);\n" + TAIL)
    assert "triangle mesh" in said.what and "solid body" in said.mend


def test_a_file_that_points_elsewhere_asks_for_the_part_itself(tmp_path):
    said = refusal(tmp_path, HEAD + b"#1=DOCUMENT_FILE('pin.stp','',$,#2,'',$);\n" + TAIL)
    assert "points to other files" in said.what


@pytest.mark.parametrize(
    ("entity", "what"), [(b"#1=GEOMETRIC_CURVE_SET('',(#2));\n", "curves only"), (b"", "no geometry")]
)
def test_a_file_without_a_body_says_there_is_no_solid(tmp_path, entity, what):
    said = refusal(tmp_path, HEAD + entity + TAIL)
    assert what in said.what and "no solid" in said.what


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.step", tmp_path):
        with pytest.raises(Unreadable):
            sniff(path, Limits())


def test_the_tessellated_file_of_the_set_is_refused_by_its_bytes(models):
    with pytest.raises(Unreadable, match="triangle mesh only"):
        sniff(models / "nist_ftc_08_asme1_ap242-e1-tg.stp", Limits())
