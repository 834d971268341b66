"""A first flight told: in the terminal, as plain values, and what of it a builder should act on."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import Any

from sheetlark.evaluation import Evaluation
from sheetlark.flight import Story
from sheetlark.units import show_distance, show_length, show_speed

_WIDTH = 96
# Sideslip beyond which a flown turn is called a skid: 5 degrees, and 3 more that gusts of a light breeze give it.
# Sink that a light airframe takes without harm (common practice).
_SKID_RAD = math.radians(8.0)
_HARD_MS = 2.5


def told(e: Evaluation, story: Story) -> str:
    """The story as text: what happened when, then the figures, then what to do about it."""
    imperial = e.design.model.imperial
    out = [f"The first flight of {e.design.model.name}, simulated", ""]
    for event in story.events:
        first, *rest = textwrap.wrap(event.says, _WIDTH - 20)
        out.append(f"  {event.time_s:5.1f} s {_height(event.height_m, imperial):>9}  {first}")
        out.extend(" " * 20 + line for line in rest)
    out.append("")
    out.extend(f"  {what:<34} {figure}" for what, figure in figures(e, story))
    advice = list(_advice(e, story))
    if advice:
        out.append("")
        for line in advice:
            out.extend(textwrap.wrap(line, _WIDTH - 4, initial_indent="  → ", subsequent_indent="    "))
    out.extend(
        [
            "",
            "  Simulated from computed figures: a guide to what to expect, not a promise. Fly over open ground, away",
            "  from people, and keep to your local rules.",
        ]
    )
    return "\n".join(out)


def _height(metres: float, imperial: bool) -> str:
    return show_distance(max(metres, 0.0), imperial)


def figures(e: Evaluation, story: Story) -> list[tuple[str, str]]:
    """What a builder wants from a first flight, in words and figures."""
    imperial = e.design.model.imperial
    rows = []
    if story.launched_by_hand:
        rows.append(("height lost at launch", _height(story.launch_height_lost_m, imperial)))
    rows.append(("trim it needs", _trim(e, story)))
    rows.append(("peak sideslip in the turns", f"{math.degrees(story.peak_sideslip_rad):.1f}°"))
    rows.append(("turns both ways", "yes" if story.turns_both_ways else "no"))
    if story.stall is not None:
        s = story.stall
        how = "breaks" if s.broke else "mushes, stick full back"
        rows.append(
            ("stall", f"{how} at {show_speed(s.speed_ms, imperial)}, bank {math.degrees(s.bank_rad):.0f}°")
        )
        rows.append(("height until level again", _height(s.recovery_height_m, imperial)))
    sink = show_speed(story.touch_down_sink_ms, imperial)
    rows.append(("landing", f"touches down sinking {sink}" if story.landed_as_planned else "not as planned"))
    return rows


def _trim(e: Evaluation, story: Story) -> str:
    """Trim at each surface, in degrees and at the trailing edge."""
    imperial = e.design.model.imperial
    flaps = {c.moves: c.up_m / math.sin(c.up_rad) for c in e.controls.servos if c.up_rad > 0}
    said = []
    for surface, angle in zip(e.flight.mixer.surfaces, story.trim_deflections_rad, strict=True):
        if abs(angle) < math.radians(0.3):
            continue
        moves = surface.name.partition("_")[0]
        flap = flaps.get(moves)
        upright = moves == "rudder"
        way = ("to port" if angle > 0 else "to starboard") if upright else ("down" if angle > 0 else "up")
        at_edge = f" ({show_length(abs(flap * math.sin(angle)), imperial)})" if flap is not None else ""
        said.append(f"{surface.name.replace('_', ', ')} {abs(math.degrees(angle)):.1f}° {way}{at_edge}")
    return "; ".join(said) if said else "none to speak of"


def _advice(e: Evaluation, story: Story) -> Iterator[str]:
    if story.launched_by_hand and story.launch_height_lost_m > 1.0:
        yield (
            f"It sinks {story.launch_height_lost_m:.1f} m after the throw: its stall is {e.flight.stall_ms:.1f} m/s. "
            "Throw harder, level and into wind, at full throttle."
        )
    if story.peak_sideslip_rad > _SKID_RAD:
        yield (
            f"It slips {math.degrees(story.peak_sideslip_rad):.0f}° in the turns: use the rudder with the ailerons, "
            "and see what the review says of adverse yaw."
            if any(s.yaw_rad for s in e.flight.mixer.surfaces)
            else f"It slips {math.degrees(story.peak_sideslip_rad):.0f}° in the turns, and has no rudder against it."
        )
    if not story.turns_both_ways and story.turns:
        yield "It does not turn both ways: see what the review says of its controls before it flies."
    if max(abs(story.pitch_trim), abs(story.roll_trim), abs(story.yaw_trim)) > 0.3:
        yield "It needs a good deal of trim: set the surfaces so before the first throw."
    if story.stall is not None and abs(story.stall.bank_rad) > math.radians(40.0):
        yield "It drops a wing at the stall: keep the speed up near the ground."
    if story.landed_as_planned and story.touch_down_sink_ms > _HARD_MS:
        yield f"It arrives hard, {story.touch_down_sink_ms:.1f} m/s of sink: land with a little power."
    if not story.landed_as_planned:
        yield "The flight does not end as planned: read the last lines above before you throw it."


def story_document(e: Evaluation, story: Story) -> dict[str, Any]:
    """The story as plain values: events, figures, and the record a tenth of a second apart."""
    h = story.history
    keep = slice(None, None, max(1, round(0.1 / max(float(h.time_s[1] - h.time_s[0]), 1e-3))))
    degrees = 180.0 / math.pi
    stall = story.stall
    return {
        "model": {"name": e.design.model.name},
        "events": [
            {"time_s": round(v.time_s, 2), "height_m": round(v.height_m, 2), "says": v.says}
            for v in story.events
        ],
        "launched_by_hand": story.launched_by_hand,
        "launch_height_lost_m": story.launch_height_lost_m,
        "trim": {"pitch": story.pitch_trim, "roll": story.roll_trim, "yaw": story.yaw_trim},
        "trim_deg": {
            s.name: math.degrees(a)
            for s, a in zip(e.flight.mixer.surfaces, story.trim_deflections_rad, strict=True)
        },
        "peak_sideslip_deg": math.degrees(story.peak_sideslip_rad),
        "turns_both_ways": story.turns_both_ways,
        "turns": [
            {
                "to": "starboard" if t.starboard else "port",
                "seconds": t.seconds,
                "heading_change_deg": math.degrees(t.heading_change_rad),
                "bank_deg": math.degrees(t.bank_rad),
                "peak_sideslip_deg": math.degrees(t.peak_sideslip_rad),
                "radius_m": t.radius_m if math.isfinite(t.radius_m) else None,
            }
            for t in story.turns
        ],
        "stall": None
        if stall is None
        else {
            "speed_ms": stall.speed_ms,
            "broke": stall.broke,
            "bank_deg": math.degrees(stall.bank_rad),
            "recovery_height_m": stall.recovery_height_m,
        },
        "touch_down_sink_ms": story.touch_down_sink_ms,
        "landed_as_planned": story.landed_as_planned,
        "record": {
            "time_s": h.time_s[keep].round(2).tolist(),
            "north_m": h.north_m[keep].round(2).tolist(),
            "east_m": h.east_m[keep].round(2).tolist(),
            "height_m": h.height_m[keep].round(2).tolist(),
            "airspeed_ms": h.airspeed_ms[keep].round(2).tolist(),
            "climb_ms": h.climb_ms[keep].round(2).tolist(),
            "alpha_deg": (degrees * h.alpha_rad[keep]).round(1).tolist(),
            "sideslip_deg": (degrees * h.beta_rad[keep]).round(1).tolist(),
            "bank_deg": (degrees * h.bank_rad[keep]).round(1).tolist(),
            "pitch_deg": (degrees * h.pitch_rad[keep]).round(1).tolist(),
            "heading_deg": (degrees * h.heading_rad[keep]).round(1).tolist(),
            "pitch_stick": h.pitch_stick[keep].round(3).tolist(),
            "roll_stick": h.roll_stick[keep].round(3).tolist(),
            "yaw_stick": h.yaw_stick[keep].round(3).tolist(),
            "throttle": h.throttle[keep].round(3).tolist(),
        },
    }
