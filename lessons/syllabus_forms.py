"""The parts of a syllabus draft as forms: one unit, one manoeuvre, one fault, one item, and the heading.

Each form is made from the plain values of its part and gives plain values back (`content()`).
"""

from typing import Any

from django import forms

from lessons.models import GradeScale, Manoeuvre
from lessons.rules.gate_rules import QUANTITY_UNITS
from lessons.rules.gear import Gear
from lessons.rules.scale import Ending, Level, UnitKind

# Empty rows for new criteria, below those that there are.
SPARE_CRITERIA = 3
GEARS = [(gear.value, gear.label) for gear in Gear]
LEVELS = [(level.value, level.label) for level in Level if level.observed]
CODE_HELP = "letters, digits, hyphens; cannot be changed once used in a grade"
TEXTAREA = forms.Textarea(attrs={"rows": 3})


class EditPartForm(forms.Form):
    """Edit one part of a draft.

    `draft`: the whole content of the draft; `part`: the plain values of what is edited, empty for a new one.
    """

    def __init__(self, data: Any = None, *, draft: dict[str, Any], part: dict[str, Any]) -> None:
        self.draft, self.part = draft, part
        super().__init__(data, initial=self.initial_values(part))
        self.fill_choices()

    def initial_values(self, part: dict[str, Any]) -> dict[str, Any]:
        return dict(part)

    def fill_choices(self) -> None:
        """Fill choices from the draft."""

    def content(self) -> dict[str, Any]:
        # Empty fields are left out, as in a file: there a missing field has its default.
        return {name: value for name, value in self.cleaned_data.items() if value not in ("", None)}

    def _manoeuvre_choices(self) -> list[tuple[str, str]]:
        return [(row["code"], row["title"]) for row in self.draft.get("manoeuvres", [])]


class EditHeadingForm(EditPartForm):
    title = forms.CharField(max_length=100)
    rule = forms.CharField(label="Rule it is built on", max_length=200)
    scale = forms.ChoiceField(label="Grade scale")

    def fill_choices(self) -> None:
        # Each scale once, in its newest issue: a syllabus file names a scale by its code alone.
        rows = GradeScale.objects.order_by("code", "-issue").distinct("code")
        self.fields["scale"].choices = [(row.code, row.title) for row in rows]  # type: ignore[attr-defined]


class EditItemForm(EditPartForm):
    code = forms.CharField(max_length=30, help_text="the paragraph of the rule; part of a paragraph after a colon")
    text = forms.CharField(max_length=200)


class EditFaultForm(EditPartForm):
    name = forms.CharField(max_length=40)
    code = forms.SlugField(max_length=50, help_text=CODE_HELP)
    manoeuvres = forms.MultipleChoiceField(label="Seen in", widget=forms.CheckboxSelectMultiple)
    critical = forms.BooleanField(label="Critical: with it, an attempt is never to standard", required=False)
    gear = forms.ChoiceField(label="Offered on", choices=GEARS, required=False)
    cause = forms.CharField(widget=TEXTAREA)
    cure = forms.CharField(widget=TEXTAREA)
    source = forms.CharField(max_length=200, help_text="a book with its chapter, or “common practice”")
    signs = forms.CharField(
        label="Numbers that point to it",
        required=False,
        help_text="such as final.speed.over, separated by spaces: gate, quantity, over or under its tolerance",
    )

    def initial_values(self, part: dict[str, Any]) -> dict[str, Any]:
        return part | {"signs": " ".join(part.get("signs", []))}

    def fill_choices(self) -> None:
        self.fields["manoeuvres"].choices = self._manoeuvre_choices()  # type: ignore[attr-defined]

    def content(self) -> dict[str, Any]:
        return self.cleaned_data | {"signs": self.cleaned_data["signs"].replace(",", " ").split()}


class EditManoeuvreForm(EditPartForm):
    title = forms.CharField(max_length=60)
    code = forms.SlugField(max_length=40, help_text=CODE_HELP)
    phase = forms.ChoiceField(choices=Manoeuvre.Phase.choices)
    items = forms.MultipleChoiceField(
        label="Items of training that it covers", required=False, widget=forms.CheckboxSelectMultiple
    )
    tailwheel_only = forms.BooleanField(label="For tailwheel types only", required=False)
    reference = forms.CharField(max_length=120, required=False, help_text="a published standard, if there is one")

    def fill_choices(self) -> None:
        items = [(row["code"], f"{row['code']} {row['text']}") for row in self.draft.get("items", [])]
        self.fields["items"].choices = items  # type: ignore[attr-defined]
        self.criteria = self.part.get("criteria", [])
        for place in range(len(self.criteria) + SPARE_CRITERIA):
            self._offer_criterion(place, self.criteria[place] if place < len(self.criteria) else {})

    def _offer_criterion(self, place: int, row: dict[str, Any]) -> None:
        quantities = [("", "judged by eye"), *((word, word) for word in QUANTITY_UNITS)]
        fields: dict[str, forms.Field] = {
            "text": forms.CharField(max_length=200, required=False, label="Criterion"),
            "code": forms.SlugField(max_length=50, required=False, label="Code"),
            "quantity": forms.ChoiceField(choices=quantities, required=False, label="Measured"),
            "gate": forms.CharField(max_length=40, required=False, label="At the gate (code)"),
            "from_unit": forms.IntegerField(min_value=1, max_value=999, required=False, label="Counts from unit"),
            "gear": forms.ChoiceField(choices=GEARS, required=False, label="Offered on"),
        }
        for name, field in fields.items():
            field.initial = row.get(name)
            self.fields[f"criterion-{place}-{name}"] = field

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        names = ("text", "code", "quantity", "gate", "from_unit", "gear")
        count = len(self.criteria) + SPARE_CRITERIA
        return [[self[f"criterion-{place}-{name}"] for name in names] for place in range(count)]

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("title", "code", "phase", "items", "tailwheel_only", "reference")]

    def content(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        words: dict[str, Any] = {name: cleaned[name] for name in ("title", "code", "phase", "items", "tailwheel_only")}
        if cleaned["reference"]:
            words["reference"] = cleaned["reference"]
        words["criteria"] = [self._criterion(place) for place in range(len(self.rows)) if self._text(place)]
        return words

    def _text(self, place: int) -> str:
        text: str = self.cleaned_data.get(f"criterion-{place}-text", "")
        return text

    def _criterion(self, place: int) -> dict[str, Any]:
        typed = {name: self.cleaned_data.get(f"criterion-{place}-{name}") for name in ("code", "quantity", "gate")}
        row: dict[str, Any] = {"code": typed["code"] or f"criterion-{place + 1}", "text": self._text(place)}
        # One of the two is enough here: the check of the file then says that the other is missing.
        row["kind"] = "measured" if typed["quantity"] or typed["gate"] else "observed"
        row |= {name: value for name, value in typed.items() if name != "code" and value}
        if from_unit := self.cleaned_data.get(f"criterion-{place}-from_unit"):
            row["from_unit"] = from_unit
        if gear := self.cleaned_data.get(f"criterion-{place}-gear"):
            row["gear"] = gear
        return row


class EditUnitForm(EditPartForm):
    """Edit a unit. `part` has the place of its stage as "stage" beside the values of the unit."""

    stage = forms.TypedChoiceField(coerce=int)
    number = forms.IntegerField(min_value=1, max_value=999)
    title = forms.CharField(max_length=80)
    kind = forms.ChoiceField(choices=[(kind.value, kind.label) for kind in UnitKind])
    aim = forms.CharField(widget=TEXTAREA, max_length=4000)
    brief = forms.CharField(widget=forms.Textarea(attrs={"rows": 6}), required=False, max_length=4000)
    exercises = forms.CharField(max_length=40, required=False)
    flies_circuits = forms.BooleanField(required=False)
    ending = forms.ChoiceField(label="A circuit ends with", choices=[(ending.value, ending.label) for ending in Ending])

    def fill_choices(self) -> None:
        stages = [(place, row["title"]) for place, row in enumerate(self.draft.get("stages", []))]
        self.fields["stage"].choices = stages  # type: ignore[attr-defined]
        graded = {row["code"]: row for row in self.part.get("manoeuvres", [])}
        for code, title in self._manoeuvre_choices():
            row = graded.get(code, {})
            self.fields[f"expected-{code}"] = forms.ChoiceField(
                label=title, choices=[("", "not in this unit"), *LEVELS], required=False, initial=row.get("expected")
            )
            self.fields[f"needed-{code}"] = forms.BooleanField(
                label="needed", required=False, initial=row.get("compulsory", False)
            )

    def initial_values(self, part: dict[str, Any]) -> dict[str, Any]:
        return {"ending": Ending.FULL_STOP.value, "kind": UnitKind.DUAL.value, "stage": 0} | part

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        names = ("stage", "number", "title", "kind", "aim", "brief", "exercises", "flies_circuits", "ending")
        return [self[name] for name in names]

    @property
    def rows(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        return [(title, self[f"expected-{code}"], self[f"needed-{code}"]) for code, title in self._manoeuvre_choices()]

    def content(self) -> dict[str, Any]:
        names = ("number", "title", "kind", "aim", "brief", "exercises", "flies_circuits", "ending")
        words = {name: self.cleaned_data[name] for name in names} | {"stage": self.cleaned_data["stage"]}
        # The order in a unit is the order in which it is graded: an edit must not shuffle it.
        order = [row["code"] for row in self.part.get("manoeuvres", [])]
        codes = order + [code for code, _ in self._manoeuvre_choices() if code not in order]
        words["manoeuvres"] = [
            {"code": code, "expected": expected, "compulsory": self.cleaned_data[f"needed-{code}"]}
            for code in codes
            if (expected := self.cleaned_data.get(f"expected-{code}"))
        ]
        return words


# A larger file is refused before its text is decoded and parsed.
MAX_FILE_BYTES = 2**20


class ImportSyllabusForm(forms.Form):
    """A syllabus file, chosen or pasted."""

    file = forms.FileField(required=False, label="File, YAML or JSON")
    text = forms.CharField(
        required=False,
        label="or paste its text",
        # Indentation has a meaning in YAML: a first line without its own would shift against the others.
        strip=False,
        max_length=MAX_FILE_BYTES,
        widget=forms.Textarea(attrs={"rows": 12, "spellcheck": "false"}),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        chosen = cleaned.get("file")
        if chosen:
            if chosen.size > MAX_FILE_BYTES:
                raise forms.ValidationError("A syllabus file is smaller than 1 MB: is this the right file?")
            try:
                # “-sig”: some editors put a byte order mark at the start of a file.
                cleaned["text"] = chosen.read().decode("utf-8-sig")
            except UnicodeDecodeError:
                raise forms.ValidationError("This file is not text in UTF-8.") from None
        if not cleaned.get("text", "").strip():
            raise forms.ValidationError("Choose a file, or paste its text.")
        return cleaned
