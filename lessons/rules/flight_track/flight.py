"""The smoothed flight, once a second, along and across one runway."""

import math
from dataclasses import dataclass, replace

import numpy as np

from lessons.rules.flight_track.place import Floats, RunwaySite, along_across, east_north
from lessons.rules.flight_track.setting import TrackSetting, density_ratio
from lessons.rules.flight_track.smoothing import (
    HEIGHT_JERK,
    LEVEL_JERK,
    LEVEL_SIGMA,
    PRESSURE_SIGMA,
    SATELLITE_SIGMA,
    smooth,
    usable_fixes,
)

GRAVITY = 9.80665  # m/s², standard acceleration of free fall (CGPM 1901)
FOOT = 0.3048
# What a wind at the field is taken for aloft: it grows by half up to 1,000 ft. An assumption, and said so.
WIND_GROWTH, GROWS_UP_TO_M, GROWTH_POWER = 0.5, 300.0, 0.6
SLOWEST_FOR_BANK_MS = 5.0


@dataclass(frozen=True)
class Fixes:
    """A track as it was read: seconds since 1970, degrees, metres by the receiver or by pressure."""

    seconds: Floats
    latitude: Floats
    longitude: Floats
    height: Floats
    by_pressure: bool


@dataclass(frozen=True)
class Flight:
    """Once a second: place, speed, acceleration along (x) and to the circuit's side (y), height; m, m/s, m/s².

    raw_height: not smoothed, for the ground; gap: seconds to the nearest fix; airspeed and bank (radians, positive
    towards the circuit's side) follow from the wind. Heights are by the instrument until `over_ground`.
    """

    seconds: Floats
    x: Floats
    y: Floats
    height: Floats
    vx: Floats
    vy: Floats
    ax: Floats
    ay: Floats
    climb: Floats
    raw_height: Floats
    gap: Floats
    airspeed: Floats
    bank: Floats
    by_pressure: bool
    # Whether a height over the ground can be told: only where it touched the ground.
    grounded: bool = False

    @property
    def ground_speed(self) -> Floats:
        return np.hypot(self.vx, self.vy)


@dataclass(frozen=True)
class LocalFlight:
    """The smoothed flight in metres east and north of one threshold, for every runway of the field."""

    origin: RunwaySite
    seconds: Floats
    level: tuple[Floats, Floats, Floats]
    height: Floats
    climb: Floats
    raw_height: Floats
    gap: Floats
    by_pressure: bool


def smooth_fixes(fixes: Fixes, origin: RunwaySite) -> LocalFlight:
    """Smooth a track round a field. It must have two fixes at least two seconds apart."""
    east, north = east_north(fixes.latitude, fixes.longitude, origin)
    keep = usable_fixes(fixes.seconds, east, north)
    seconds, height = fixes.seconds[keep], fixes.height[keep]
    grid = np.arange(math.ceil(seconds[0]), math.floor(seconds[-1]) + 1, 1.0)
    level = smooth(seconds, np.column_stack([east[keep], north[keep]]), LEVEL_SIGMA, LEVEL_JERK, grid)
    sigma = PRESSURE_SIGMA if fixes.by_pressure else SATELLITE_SIGMA
    up = smooth(seconds, height[:, None], sigma, HEIGHT_JERK, grid)
    after = np.searchsorted(seconds, grid).clip(1, len(seconds) - 1)
    gap = np.minimum(np.abs(grid - seconds[after - 1]), np.abs(seconds[after] - grid))
    return LocalFlight(
        origin,
        grid,
        (level.place, level.speed, level.acceleration),
        up.place[:, 0],
        up.speed[:, 0],
        np.interp(grid, seconds, height),
        gap,
        fixes.by_pressure,
    )


def along_runway(local: LocalFlight, runway: RunwaySite) -> Flight:
    """Return the flight along and across a runway of the field, with airspeed and bank out of the wind."""
    shift = east_north(np.array([runway.latitude]), np.array([runway.longitude]), local.origin)
    place, speed, acceleration = local.level
    x, y = along_across(place[:, 0] - shift[0][0], place[:, 1] - shift[1][0], runway)
    vx, vy = along_across(speed[:, 0], speed[:, 1], runway)
    ax, ay = along_across(acceleration[:, 0], acceleration[:, 1], runway)
    still = np.zeros_like(x)
    return Flight(
        local.seconds,
        x - runway.touchdown_ft * FOOT,
        y,
        local.height,
        vx,
        vy,
        ax,
        ay,
        local.climb,
        local.raw_height,
        local.gap,
        still,
        still,
        local.by_pressure,
    )


def over_ground(flight: Flight, line: Floats | None, runway: RunwaySite, setting: TrackSetting) -> Flight:
    """Return the flight with heights over the ground, and airspeed and bank in the wind at that height.

    line: the height of the ground by the instrument; None where it never touched the ground: then the lowest is taken
    for the wind, and no height is told.
    """
    ground = np.full(len(flight.seconds), np.percentile(flight.raw_height, 2)) if line is None else line
    height = flight.height - ground
    along, across = setting.wind_along(runway)
    grown = 1 + WIND_GROWTH * np.clip(height / GROWS_UP_TO_M, 0, 1) ** GROWTH_POWER
    through_x, through_y = flight.vx - along * grown, flight.vy - across * grown
    true_airspeed = np.hypot(through_x, through_y)
    # Acceleration is the same in the moving air; only its part across the way through the air is a bank.
    sideways = (through_x * flight.ay - through_y * flight.ax) / np.maximum(true_airspeed, SLOWEST_FOR_BANK_MS)
    thin = np.sqrt(_density_ratios(height + setting.elevation_ft * FOOT))
    return replace(
        flight,
        height=height,
        raw_height=flight.raw_height - ground,
        # As an airspeed indicator without errors of its own would show it.
        airspeed=true_airspeed * thin,
        bank=np.arctan2(sideways, GRAVITY),
        grounded=line is not None,
    )


def _density_ratios(heights: Floats) -> Floats:
    return np.array([density_ratio(float(row)) for row in np.clip(heights, -1000, 11_000)])
