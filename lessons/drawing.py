"""Draw gates over the ground and as heights along the way."""

from fractions import Fraction

from lessons.rules.gate_rules import GateSetSpec, GateSpec
from lessons.rules.pattern import Track, UnclosedCircuit, lay_out
from lessons.rules.units import convert
from school.marks import GateMark, circuit_plan, circuit_profile
from school.models import Aerodrome, Runway

TRACK_POINTS = 240  # enough for smooth curves at the width of a page


def draw_gates(form: GateSetSpec, aerodrome: Aerodrome) -> dict[str, str]:
    """Return `plan` and `profile` as SVG; the plan is empty where the distances do not close to a circuit."""
    if not form.gates:
        return {"plan": "", "profile": ""}
    runway = aerodrome.runways.order_by("designator").first()
    label = f"The circuit, {form.shape.label}, with {len(form.gates)} gates"
    # A draft is drawn while it is typed: distances that do not close yet are no error here.
    try:
        track = lay_out(form.stations, form.shape)
    except UnclosedCircuit:
        plan = ""
    else:
        marks = [_gate_mark(place, gate, track) for place, gate in enumerate(form.gates, start=1)]
        # The corners are added to the even steps, or a square circuit would have its corners cut.
        along = sorted({track.length * step / TRACK_POINTS for step in range(TRACK_POINTS + 1)} | set(track.corners))
        points = [track.position_at(distance) for distance in along]
        left = runway is None or runway.circuit == Runway.CircuitSide.LEFT
        plan = circuit_plan(marks, points, _runway_ends(runway, track), left, f"{label}, seen from above")
    # Heights need no track, so they are drawn even where the circuit does not close.
    flat = [_gate_mark(place, gate, None) for place, gate in enumerate(form.gates, start=1)]
    return {
        "plan": plan,
        "profile": circuit_profile(flat, aerodrome.circuit_height_ft, f"{label}: heights along the way"),
    }


def _runway_ends(runway: Runway | None, track: Track) -> tuple[float, float]:
    """Return both ends of the runway along the takeoff; the landing aims at 0."""
    if runway is not None:
        return -runway.touchdown_ft, runway.length_ft - runway.touchdown_ft
    length = max(2000.0, track.lift_off_x * 2)
    return -length / 6, length * 5 / 6


def _gate_mark(number: int, gate: GateSpec, track: Track | None) -> GateMark:
    x, y = track.position_at(gate.along_ft) if track else (0.0, 0.0)
    height = next((row for row in gate.targets if row.quantity == "height"), None)
    if height is None:
        return GateMark(number, gate.name, gate.along_ft, x, y)
    # Converted as fractions, which is exact: only the drawing rounds.
    feet = [float(convert(Fraction(value), height.unit, "ft")) for value in (height.value, height.over, height.under)]
    return GateMark(number, gate.name, gate.along_ft, x, y, *feet)
