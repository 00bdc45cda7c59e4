"""Tells each person of papers that run out 60, 30 or 7 days ahead. Meant to be run once a day."""

from argparse import ArgumentParser
from collections import defaultdict
from datetime import date
from typing import Any

from django.core.mail import send_mail
from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.pages.students import student_rows
from grading.reminders import RunsOut, due, of_instructors, of_students
from lessons.models import Enrolment
from school.models import Person, Role, School

CLOSE = "This reminds and decides nothing: the document itself and the rules in force say what is valid."


class Command(BaseCommand):
    help = "Sends an e-mail to each person whose paper runs out in 60, 30 or 7 days, and a list to the chief."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", type=date.fromisoformat, help="the day to be told on, today by default")

    def handle(self, *args: Any, on: date | None, **options: Any) -> None:
        day = on or timezone.localdate()
        rows = student_rows(list(Enrolment.objects.active(day).for_pages().order_by("pk")), day)
        found = due(of_students(rows, day)) + due(of_instructors(day))
        school = School.objects.get()
        by_person: dict[Person, list[RunsOut]] = defaultdict(list)
        for row in found:
            by_person[row.person].append(row)
        sent = sum(self._send(school, person, [row.words for row in of_one]) for person, of_one in by_person.items())
        if found:
            words = [f"{row.person}: {row.words}" for row in found]
            sent += sum(self._send(school, chief, words) for chief in Person.objects.having(Role.CHIEF))
        without = sorted(person.name for person in by_person if not person.email)
        self.stdout.write(f"{len(found)} due on {day}, {sent} e-mails sent.")
        if without:
            self.stdout.write("Without an e-mail address: " + ", ".join(without) + ".")

    def _send(self, school: School, person: Person, words: list[str]) -> int:
        if not person.email:
            return 0
        body = "\n".join([*words, "", CLOSE, school.name])
        return send_mail(f"{school.name}: papers that run out", body, None, [person.email])
