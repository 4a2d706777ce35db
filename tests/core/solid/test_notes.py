"""Notes and surface finish out of the text of a file, tied to faces; counts against what a real file says of itself."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core import solid
from shopflow.core.solid import datums, notes
from shopflow.core.solid.aspects import Aspects, Counted, face_numbers

STC_08, FTC_07 = "nist_stc_08_asme1_ap242-e3.stp", "nist_ftc_07_asme1_ap242-e2.stp"

FACES = b"#1=MANIFOLD_SOLID_BREP('',#2);#2=CLOSED_SHELL('',(#11,#12,#13));" + b"".join(
    b"#%d=ADVANCED_FACE('',(#20),#21,.T.);" % number for number in (11, 12, 13)
)
ASPECT = b"#30=SHAPE_ASPECT('NOTE','',#31,.T.);#32=GEOMETRIC_ITEM_SPECIFIC_USAGE('','',#30,#33,#12);"
NOTE = (
    b"#40=PROPERTY_DEFINITION('semantic text','',#30);#41=PROPERTY_DEFINITION_REPRESENTATION(#40,#42);"
    b"#42=REPRESENTATION('',(#43,#44),#45);#43=DESCRIPTIVE_REPRESENTATION_ITEM('','BREAK EDGES; 0.3 MAX');"
    b"#44=DESCRIPTIVE_REPRESENTATION_ITEM('','MASK ''A'' FACE');"
)
FINISH = (
    b"#50=PROPERTY_DEFINITION('surface condition',$,#30);#51=PROPERTY_DEFINITION_REPRESENTATION(#50,#52);"
    b"#52=SURFACE_TEXTURE_REPRESENTATION('',(#53),#45);"
    b"#53=MEASURE_REPRESENTATION_ITEM('Ra',POSITIVE_LENGTH_MEASURE(1.6),#54);"
    b"#54=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MICRO.,.METRE.));"
)


@pytest.fixture(scope="module")
def readings(models):
    return solid.read(models / FTC_07)


ONE = (Counted(3, 0),)


def items(data, solids=ONE, is_inch=False):
    file = Aspects(data)
    return notes.items(file, face_numbers(file, solids), is_inch=is_inch)


def test_a_note_keeps_its_lines_and_belongs_to_its_face():
    (note,) = items(FACES + ASPECT + NOTE)
    assert (note.kind, note.text, note.faces) == ("note", "BREAK EDGES; 0.3 MAX\nMASK 'A' FACE", (1,))


def test_a_note_on_a_group_belongs_to_the_faces_of_its_members():
    group = b"#60=COMPOSITE_SHAPE_ASPECT('','',#31,.T.);#61=SHAPE_ASPECT_RELATIONSHIP('','',#60,#30);"
    (note,) = items(FACES + ASPECT + group + NOTE.replace(b"'',#30", b"'',#60"))
    assert note.faces == (1,)


def test_groups_that_hold_one_another_end():
    ring = b"#61=SHAPE_ASPECT_RELATIONSHIP('','',#30,#62);#63=SHAPE_ASPECT_RELATIONSHIP('','',#62,#30);"
    assert items(FACES + ASPECT + ring + NOTE)[0].faces == (1,)


def test_a_measured_finish_is_in_millimetres_and_belongs_to_its_face():
    (finish,) = items(FACES + ASPECT + FINISH)
    assert (finish.kind, finish.name, finish.faces) == ("finish", "Ra", (1,))
    assert finish.value == finish.upper == pytest.approx(0.0016)


def test_nothing_is_tied_where_the_solid_has_another_number_of_faces():
    assert items(FACES + ASPECT + NOTE, [Counted(4, 0)])[0].faces == ()


SECOND = b"#70=MANIFOLD_SOLID_BREP('',#71);#71=CLOSED_SHELL('',(#81,#82));" + b"".join(
    b"#%d=ADVANCED_FACE('',(#20),#21,.T.);" % number for number in (81, 82)
)


@pytest.mark.parametrize(
    ("solids", "faces"),
    [
        ([Counted(2, 0), Counted(3, 2)], (3,)),  # the library has them in another order than the file
        ([Counted(2, None), Counted(3, 0)], (1,)),  # only the second is looked at
        ([Counted(2, 0), Counted(3, None)], ()),
        ([Counted(2, 0), Counted(3, 2), Counted(3, 5)], ()),  # one body in two places
    ],
)
def test_among_several_solids_a_note_belongs_to_the_one_told_by_its_faces(solids, faces):
    assert items(FACES + SECOND + ASPECT + NOTE, solids)[0].faces == faces


def test_solids_that_the_file_does_not_tell_apart_are_left_untied():
    twin = FACES.replace(b"#1=", b"#90=").replace(b"#2", b"#91").replace(b"#11,#12,#13", b"#92,#93,#94")
    assert items(FACES + twin + ASPECT + NOTE, [Counted(3, 0), Counted(3, 3)])[0].faces == ()


DATUM = b"#100=DATUM('',$,#31,.F.,'A');#101=DATUM_FEATURE('',$,#31,.T.);#102=SHAPE_ASPECT_RELATIONSHIP('',$,#101,#100);"


@pytest.mark.parametrize(
    "tie",
    [
        b"#103=GEOMETRIC_ITEM_SPECIFIC_USAGE('','',#100,#33,#12);",
        b"#103=GEOMETRIC_ITEM_SPECIFIC_USAGE('','',#101,#33,#12);",
        b"#103=ITEM_IDENTIFIED_REPRESENTATION_USAGE('',$,#101,#33,SET_REPRESENTATION_ITEM((#12)));",
    ],
)
def test_a_datum_belongs_to_its_own_faces_or_to_those_of_its_feature(tie):
    file = Aspects(FACES + DATUM + tie)
    assert datums.faces(file, face_numbers(file, [Counted(3, 0)])) == {"A": (1,)}


@pytest.mark.parametrize("name", ["nist_ctc_01_asme1_ap242-e1.stp", STC_08])
def test_every_datum_of_a_real_file_has_faces(models, name):
    found = [item for item in solid.read(models / name).pmi.items if item.kind == "datum"]
    assert found and all(item.faces for item in found)


@pytest.mark.parametrize(
    ("text", "is_inch", "name", "value_mm"),
    [
        ("Ra 3.2", False, "Ra", 0.0032),
        ("FINISH Ra 1,6 \u00b5m MAX", True, "Ra", 0.0016),
        ("63 \u00b5in Ra", False, "Ra", 63 * 25.4e-6),
        ("125 RMS", True, "Rq", 125 * 25.4e-6),
        ("Rz=6.3", False, "Rz", 0.0063),
    ],
)
def test_a_finish_in_words_is_read(text, is_inch, name, value_mm):
    """1 micrometre is 0.001 mm, 1 microinch is 25.4 nanometres exactly."""
    assert notes.finish_in(text, is_inch=is_inch) == (name, pytest.approx(value_mm))


@pytest.mark.parametrize("text", ["R3.2", "RADIUS 3", "FLAT 0.1", "Ra", "PAINT RAL 7016"])
def test_other_words_are_no_finish(text):
    assert notes.finish_in(text, is_inch=False) is None


def test_a_short_note_that_says_a_finish_is_one():
    data = FACES + ASPECT + NOTE.replace(b"BREAK EDGES; 0.3 MAX", b"Ra 0.8")
    assert [(item.kind, item.value) for item in items(data)] == [("finish", pytest.approx(0.0008))]


@given(st.binary(max_size=300), st.integers(0, 900))
def test_damaged_text_gives_notes_or_nothing(junk, at):
    data = FACES + ASPECT + NOTE + FINISH
    for item in items(data[:at] + junk + data[at:]):
        assert item.kind in ("note", "finish") and all(0 <= face < 3 for face in item.faces)


def test_a_real_file_has_as_many_notes_as_it_says_itself(models):
    """Entity 573 of the file, its own validation property: number of semantic text notes, 3."""
    found = [item for item in solid.read(models / STC_08).pmi.items if item.kind == "note"]
    assert len(found) == 3 and any(item.text.endswith("6. UNITS: INCHES") for item in found)


@pytest.mark.parametrize(
    ("words", "count"), [("2 SURFACES", 2), ("4 COPLANAR\nSURFACES", 4), ("4 COPLANAR SURFACES", 4)]
)
def test_a_real_note_belongs_to_as_many_flat_faces_as_it_speaks_of(readings, words, count):
    (note,) = [item for item in readings.pmi.items if item.text.startswith(words)]
    assert [readings.faces[face].kind for face in note.faces] == ["plane"] * count


def test_faces_that_a_real_note_calls_coplanar_are(readings):
    (note,) = [item for item in readings.pmi.items if item.text.startswith("4 COPLANAR SURFACES")]
    faces = [readings.faces[face] for face in note.faces]
    levels = [sum(a * b for a, b in zip(face.centre_mm, faces[0].normal, strict=True)) for face in faces]
    assert levels == pytest.approx([levels[0]] * 4, abs=1e-6)
