"""Plays, gaps and shares used all over a kit, each said once. Common practice, no source, unless noted."""

SLOT_FIT_MM = 0.3  # a slot is this much wider and longer than the tab that goes into it, all round half of it
HINGE_GAP_MM = 0.5  # between a surface and what is taped to it
END_GAP_MM = 1.5  # at the ends of a moving surface; 1 mm must remain in motion
SWEEP_MM = 1.2  # kept free round the way of a moving surface
KEPT_MM = 1.0  # what the proof asks of a moving surface
THINNEST_MM = 6.0  # a tongue of foam board thinner than this breaks off on the bench
PANEL_SPARE_MM = 12.0  # a one-piece part leaves this much of a stock sheet's length
BEND_MM = 0.25  # a curve is bent in facets that stay this near to it
BEVEL_SPARE_RAD = 0.087  # a hinge bevel opens 5 degrees further than the throw
SADDLE_REACH_MM = 17.0  # a wing may stand this far off the body's edge and still be let down to it
EDGE_FIT_MM = 0.05  # between parts glued edge to face
PASSAGE_MM = 2.0  # free round what passes through a former
MOTOR_FREE_MM = 2.0
SERVO_FIT_MM = 0.4
PLANK_OFF_MM = 1.0  # how far planks may stand off the shape they follow, where their number is found
ONE_SHEET_OFF_MM = 2.0  # how far a deck bent from one sheet may; more is a gap no glue fills
