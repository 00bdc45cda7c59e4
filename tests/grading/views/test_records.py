"""The chief instructor reassigns one student from readiness."""

from django.test import Client
from django.urls import reverse

from school.models import JournalEntry
from tests.cast import Cast


def test_the_chief_reassigns_a_student_and_reads_it_on_readiness(client: Client, cast: Cast) -> None:
    client.force_login(cast.amelia)
    address = reverse("grading:change_instructor", args=[cast.enrolment.uid])
    readiness = reverse("grading:readiness", args=[cast.enrolment.uid])
    assert address in client.get(readiness).content.decode()
    assert client.get(address).status_code == 200
    answer = client.post(address, {"instructor": cast.cleo.pk}, follow=True)
    assert answer.redirect_chain == [(readiness, 302)]
    assert 'role="status"' in answer.content.decode()
    cast.enrolment.refresh_from_db()
    assert cast.enrolment.instructor_id == cast.cleo.pk
    entry = JournalEntry.objects.get(what="instructor changed")
    assert (entry.person_id, entry.about_id) == (cast.amelia.pk, cast.dora.pk)
