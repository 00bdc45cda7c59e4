"""Reading tracks of strangers: each form, each refusal in a sentence, and nothing else for random bytes."""

import resource
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.exchange.flight_files import fixes as limits
from grading.exchange.flight_files.igc import read_igc
from grading.exchange.flight_files.read import read_flight_file
from school.file_reader import Limits, read_file

READER = "grading.exchange.flight_files.read:read_flight_file"
POINTS = 40
BEGIN = datetime(2026, 6, 12, 9, 2, tzinfo=UTC).timestamp()


def moment(second: int) -> str:
    return datetime.fromtimestamp(BEGIN + second, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def gpx(points: int = POINTS, inside: str = "", version: str = "1/1") -> bytes:
    rows = "".join(
        f'<trkpt lat="{52 + k / 1e4:.6f}" lon="-1.5"><ele>{100 + k}</ele><time>{moment(k)}</time></trkpt>'
        for k in range(points)
    )
    head = f'<gpx version="{version.replace("/", ".")}" creator="x" xmlns="http://www.topografix.com/GPX/{version}">'
    return f'<?xml version="1.0" encoding="UTF-8"?>{head}<trk><trkseg>{inside}{rows}</trkseg></trk></gpx>'.encode()


def igc(*lines: str) -> bytes:
    rows = [f"B0902{k:02d}5212000N00130000WA{100 + k:05d}{148 + k:05d}" for k in range(POINTS)]
    return "\r\n".join(["AXXX001", "HFDTE120626", *lines, *rows]).encode()


def table(head: str = "Time,Latitude,Longitude,Altitude (ft)", separator: str = ",") -> bytes:
    rows = [separator.join([moment(k), f"{52 + k / 1e4:.6f}", "-1.5", str(1000 + k)]) for k in range(POINTS)]
    return "\n".join([head.replace(",", separator), *rows]).encode()


def kml() -> bytes:
    rows = "".join(
        f"<when>{moment(k)}</when><gx:coord>-1.5 {52 + k / 1e4:.6f} {100 + k}</gx:coord>" for k in range(POINTS)
    )
    return (
        '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Placemark>'
        f"<gx:Track>{rows}</gx:Track></Placemark></kml>"
    ).encode()


@pytest.mark.parametrize("version", ["1/1", "1/0"])
def test_gpx(version: str) -> None:
    told = read_flight_file(gpx(version=version))
    assert (told["problem"], told["form"], told["left_out"], len(told["fixes"])) == ("", "gpx", 0, POINTS)
    assert told["fixes"][1] == [BEGIN + 1, 52.0001, -1.5, 101.0, None]


def test_a_time_with_a_zone_is_turned_to_utc() -> None:
    told = read_flight_file(gpx().replace(moment(0).encode(), b"2026-06-12T11:02:00+02:00"))
    assert told["fixes"][0][0] == BEGIN


@pytest.mark.parametrize("ending", ["\r\n", "\n"])
def test_igc_by_the_layout_of_the_b_record(ending: str) -> None:
    # The line and its values are those of the tests of aerofiles 1.5.6 (tests/igc), a general reader of the format.
    line = "B1602405407121N00249342WA0028000421"
    (fix,) = read_igc(f"HFDTE160701{ending}{line}".encode()).fixes
    assert fix.at == datetime(2001, 7, 16, 16, 2, 40, tzinfo=UTC).timestamp()
    assert (round(fix.latitude, 6), round(fix.longitude, 6)) == (54.118683, -2.822367)
    assert (fix.pressure_height, fix.height) == (280.0, 421.0)


def test_igc_goes_on_past_midnight_and_leaves_out_what_goes_back() -> None:
    lines = ["HFDTEDATE:120626,01"]
    lines += [f"B{clock}5212000N00130000WV0010000148" for clock in ("235958", "235959", "235959", "235957", "000001")]
    read = read_igc("\n".join([*lines, "B00000"]).encode())
    midnight = datetime(2026, 6, 13, tzinfo=UTC).timestamp()
    assert [fix.at - midnight for fix in read.fixes] == [-2, -1, 1]
    assert read.left_out == 3
    assert {fix.height for fix in read.fixes} == {None}  # V: the receiver had no height


def test_igc_without_a_pressure_sensor_has_satellite_heights_only() -> None:
    rows = [row[:25] + b"00000" + row[30:] if row.startswith(b"B") else row for row in igc().splitlines()]
    told = read_flight_file(b"\n".join(rows))
    assert {fix[4] for fix in told["fixes"]} == {None}
    assert told["fixes"][0][3] == 148.0


@pytest.mark.parametrize(
    ("head", "separator"), [("Time,Latitude,Longitude,Altitude (ft)", ","), ("utc,lat,lng,alt_ft", ";")]
)
def test_a_table_by_its_headings(head: str, separator: str) -> None:
    told = read_flight_file(table(head, separator))
    assert (told["problem"], told["form"], len(told["fixes"])) == ("", "csv", POINTS)
    at, latitude, longitude, height, pressure = told["fixes"][2]
    assert (at, latitude, longitude, pressure) == (BEGIN + 2, 52.0002, -1.5, None)
    assert height == pytest.approx(1002 * 0.3048)


def test_a_table_of_avionics_with_local_time_and_its_offset() -> None:
    rows = [f"2026-06-12, 11:02:{k:02d}, +02:00, 52.1, -1.5, 1500" for k in range(POINTS)]
    content = "\n".join(["#airframe", "Lcl Date, Lcl Time, UTCOfst, Latitude, Longitude, AltGPS (ft)", *rows]).encode()
    told = read_flight_file(content)
    assert told["fixes"][3][0] == BEGIN + 3


def test_altitudes_of_position_reports_are_pressure_in_feet() -> None:
    rows = [f"{BEGIN + k},52.1,-1.5,1025,181,92" for k in range(POINTS)]
    told = read_flight_file("\n".join(["timestamp,latitude,longitude,altitude,track,groundspeed", *rows]).encode())
    assert told["fixes"][0][3:] == [None, pytest.approx(1025 * 0.3048)]


def test_a_decimal_comma_where_the_separator_is_none() -> None:
    told = read_flight_file(table(separator=";").replace(b"52.0", b"52,0"))
    assert told["fixes"][0][1] == 52.0


def test_kml() -> None:
    told = read_flight_file(kml())
    assert (told["form"], told["fixes"][1]) == ("kml", [BEGIN + 1, 52.0001, -1.5, 101.0, None])


def without_times() -> bytes:
    return b"".join(part.split(b"</time>")[-1] for part in gpx().split(b"<time>"))


B_PLACE = b"5212000N00130000WA0010000148"
BOMB = b'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]><gpx>&b;</gpx>'
REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "no flight track"),
    "words": (lambda: b"a letter to the school", "no flight track"),
    "a page": (lambda: b"<html><body/></html>", "no flight track"),
    "entities": (lambda: BOMB, "declares a document type"),
    "cut": (lambda: gpx()[:-400], "breaks off"),
    "cut kml": (lambda: kml()[:-40], "breaks off"),
    "no times": (without_times, "no times"),
    "wide characters": (lambda: gpx().decode().encode("utf-16"), "UTF-8"),
    "another encoding": (lambda: gpx(inside="<name>\xe9</name>").decode().encode("latin-1"), "breaks off"),
    "few": (lambda: gpx(points=3), "fewer than 30"),
    "many": (lambda: gpx(points=limits.MAX_FIXES + 1), "more than 60,000"),
    "two days": (lambda: gpx().replace(moment(0).encode(), b"2026-06-10T09:00:00Z"), "24 hours"),
    "no date": (lambda: igc().replace(b"HFDTE120626", b"HFXXX"), "no date"),
    "damaged lines": (lambda: igc(*["B09"] * 201), "damaged"),
    "kml without times": (lambda: kml().replace(b"when", b"then"), "gx:Track"),
    "table without time": (lambda: table("A,Latitude,Longitude,B"), "no columns for time"),
    "table without numbers": (lambda: table() + b"\nx,y,z,w" * 201, "no readable time"),
    "large": (lambda: b" " * (limits.MAX_BYTES + 1), "larger than 16 MB"),
    "tags": (lambda: b"<gpx " + b"><a/" * 2_000_000 + b">", "far more"),
    "deep": (lambda: b"<gpx>" + b"<a>" * 500_000, "breaks off"),
    "a tag of a million attributes": (
        lambda: b"<kml><a " + b"".join(b'a%d="" ' % k for k in range(10**6)) + b"/></kml>",
        "far more",
    ),
    "times that run back": (
        lambda: b"\n".join([b"HFDTE120626", *(b"B%02d5959" % (23 - k % 12) + B_PLACE for k in range(600))]),
        "damaged",
    ),
    "ten million lines": (lambda: table() + b"\n" * 10**7 + b"\nx" * 201, "no readable time"),
    "ten million lines of another kind": (
        lambda: b"HFXXX" + b"\n" * 10**7 + igc().replace(b"HFDTE", b"HFX"),
        "no flight track",
    ),
    "years": (lambda: gpx().replace(b"2026-", b"1804-"), "fewer than 30"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_track_is_refused_in_a_sentence(what: str) -> None:
    make, words = REFUSED[what]
    told = read_flight_file(make())
    assert words in told["problem"]
    assert told["problem"].endswith((".", ": export it from the logger again."))


def test_poles_and_places_outside_the_earth_are_left_out() -> None:
    odd = '<trkpt lat="90" lon="180"><time>2026-06-12T09:02:00Z</time></trkpt>'
    assert read_flight_file(gpx(inside=odd))["left_out"] == 0
    for latitude in ("90.1", "nan"):
        content = gpx().replace(b'lat="52.000000"', f'lat="{latitude}"'.encode())
        assert read_flight_file(content)["left_out"] == 1


@given(
    st.binary(max_size=400), st.sampled_from([b"", b"<gpx>", b"<kml>", b"HFDTE120626\nB", b"time,lat,lon\n", b"AXXX\n"])
)
def test_random_bytes_give_a_sentence_and_no_error(tail: bytes, head: bytes) -> None:
    assert read_flight_file(head + tail)["problem"]


@given(st.integers(0, 6000), st.binary(min_size=1, max_size=5))
def test_a_file_damaged_anywhere_gives_a_sentence_or_fixes(place: int, damage: bytes) -> None:
    for content in (gpx(), igc(), table(), kml()):
        at = place % len(content)
        told = read_flight_file(content[:at] + damage + content[at + len(damage) :])
        assert told["problem"] or len(told["fixes"]) >= 30


HOSTILE = [
    "many", "tags", "deep", "entities", "large", "a tag of a million attributes", "times that run back",
    "ten million lines",
]  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_files_cost_two_seconds_at_most_in_the_reader_s_process(what: str) -> None:
    make, words = REFUSED[what]
    content, before = make(), _processor_of_readers()
    told = read_file(READER, content, limits=Limits(cpu_seconds=3, memory_megabytes=300))["problem"]
    assert words in told
    # Of the processor, its start included; the memory is refused by the limit.
    assert _processor_of_readers() - before < 2


def _processor_of_readers() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def test_fixes_that_a_file_gives_backwards_are_put_in_order() -> None:
    rows = gpx().split(b"<trkpt ")
    back = b"<trkpt ".join([rows[0], *rows[-2:0:-1], rows[-1]])
    told = read_flight_file(back)
    assert (told["problem"], [fix[0] - BEGIN for fix in told["fixes"]]) == ("", [float(k) for k in range(POINTS)])


def test_two_hours_are_read_in_the_reader_s_process() -> None:
    told = read_file(READER, gpx(points=7200))
    assert len(told["fixes"]) == 7200
