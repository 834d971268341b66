"""Designs of our own that a kit must stand up to."""

from __future__ import annotations

from sheetlark.design import loads, starter

BACKSTAGGER = """
[model]
name = "Stint"
[sheet]
stock = "foam-board-5"
[[wing]]
name = "upper wing"
at = [96, 86]
span = 560
root_chord = 110
tip_roundness = 0.5
incidence = 1
[[wing]]
name = "lower wing"
at = [70, -43]
span = 540
root_chord = 106
tip_roundness = 0.5
dihedral = 3
[wing.aileron]
chord = 0.3
start = 0.4
end = 0.9
[tailplane]
at = [380, 16]
span = 240
root_chord = 90
tip_chord = 70
[tailplane.elevator]
[[fin]]
at = [376, 18]
height = 90
root_chord = 96
tip_chord = 60
sweep = 22
[fin.rudder]
[body]
profile = "M 0 36 L 180 40 L 470 19 L 470 4 L 180 -44 L 40 -46 L 0 -36 Z"
width = [[0, 60], [60, 66], [200, 62], [470, 14]]
former = [{ at = 12, opening = 0.3 }, { at = 64 }, { at = 182 }, { at = 290 }]
[[strut]]
joins = ["lower wing", "upper wing"]
y = 190
place = 0.45
chord = 36
[[strut]]
joins = ["body", "upper wing"]
y = 26
place = 0.45
chord = 40
[drive]
motor = "2206-1400"
propeller = "8x4.5-thin-electric"
pack = "2s-850"
controller = "esc-20"
motor_at = [3, 0, 0]
pack_at = [120, 0, -12]
pack_travel = 4
controller_at = [40, 0, -30]
[radio]
receiver_at = [214, 0, -12]
[[radio.servo]]
stock = "servo-5g"
moves = "elevator"
at = [250, 10, 0]
"""

CANARD = """
[model]
name = "Reeve"
[sheet]
stock = "foam-board-5"
[[wing]]
name = "wing"
at = [250, 6]
span = 700
root_chord = 170
tip_chord = 110
sweep = 18
dihedral = 4
[[wing.spar]]
rod = "carbon-3"
at = 0.35
span = 500
[wing.aileron]
chord = 0.25
start = 0.4
end = 0.92
[tailplane]
at = [20, 30]
span = 260
root_chord = 80
tip_chord = 60
[tailplane.elevator]
chord = 0.4
start = 0.25
[[fin]]
name = "fin"
at = [330, 34]
height = 110
root_chord = 90
tip_chord = 60
sweep = 30
[fin.rudder]
[body]
profile = "M 0 24 L 120 34 L 430 30 L 430 -20 L 120 -26 L 0 -14 Z"
width = [[0, 40], [100, 56], [430, 50]]
former = [{ at = 14 }, { at = 130 }, { at = 240 }, { at = 424, opening = 0.3 }]
[drive]
motor = "2206-1400"
propeller = "7x5-thin-electric"
pack = "2s-850"
controller = "esc-20"
motor_at = [432.2, 0, 0]
pusher = true
pack_at = [70, 0, -2]
pack_travel = 6
controller_at = [180, 0, -10]
"""

V_TAIL = """
[model]
name = "Whimbrel"
[sheet]
stock = "foam-board-3"
[[wing]]
name = "wing"
at = [90, 31]
span = 900
root_chord = 150
tip_chord = 100
tip_roundness = 0.8
incidence = 1.5
dihedral = 5
held = "bolts"
[wing.aileron]
[tailplane]
at = [450, 10]
span = 260
root_chord = 90
tip_chord = 60
dihedral = 38
[tailplane.elevator]
start = 0.1
[body]
profile = "M 0 12 C 20 28, 60 30, 100 28 L 240 26 L 545 10 L 545 -2 L 240 -20 L 60 -20 C 30 -20, 10 -14, 0 -8 Z"
width = [[0, 30], [60, 46], [240, 44], [545, 20]]
former = [{ at = 20 }, { at = 84 }, { at = 250 }, { at = 360 }]
aft_deck = { start = 250, end = 400, height = 9 }
"""

STRUTTED_PARASOL = """
[model]
name = "Dabchick"
[sheet]
stock = "foam-board-5"
[[wing]]
name = "wing"
at = [80, 78]
span = 720
root_chord = 150
dihedral = 3
[wing.aileron]
[tailplane]
at = [400, 14]
span = 250
root_chord = 96
[tailplane.elevator]
[[fin]]
at = [396, 16]
height = 90
root_chord = 100
tip_chord = 70
[fin.rudder]
[body]
profile = "M 0 26 L 240 32 L 500 16 L 500 2 L 240 -34 L 40 -36 L 0 -26 Z"
width = [[0, 48], [60, 58], [240, 54], [500, 14]]
former = [{ at = 12 }, { at = 74 }, { at = 200 }, { at = 330 }]
[[strut]]
joins = ["body", "wing"]
y = 22
place = 0.45
chord = 60
"""

LOW_WING_BANDS = """
[model]
name = "Sanderling"
[sheet]
stock = "foam-board-5"
[[wing]]
name = "wing"
at = [110, -38]
span = 640
root_chord = 150
tip_chord = 130
incidence = 1
dihedral = 5
held = "bands"
[wing.aileron]
[tailplane]
at = [440, 18]
span = 260
root_chord = 96
tip_chord = 80
[tailplane.elevator]
[[fin]]
at = [436, 20]
height = 95
root_chord = 104
tip_chord = 70
sweep = 20
[body]
profile = "M 0 24 L 100 34 L 280 34 L 540 20 L 540 6 L 280 -36 L 60 -36 L 0 -20 Z"
width = [[0, 46], [80, 58], [280, 56], [540, 14]]
former = [{ at = 12 }, { at = 92 }, { at = 276 }, { at = 400 }]
"""

ODD = {
    "backstagger": BACKSTAGGER,
    "canard": CANARD,
    "v-tail": V_TAIL,
    "parasol": STRUTTED_PARASOL,
    "low-wing-bands": LOW_WING_BANDS,
}


def design(name):
    return loads(ODD[name] if name in ODD else starter(name))
