from tests.objects import makes
from tests.people_fixtures import make_person


@makes("person_id")
def a_person(everybody):
    return make_person("somebody_else", "viewer").pk
