"""A build of round figures for the tests of power, plugs and supplies; all parts are invented."""

from expert.build import Part

# Round figures, told for each part, so that the sums can be done in the head: 400 W in all.
TOLD_PARTS = (
    Part("cpu", 1, {"draw_watts": 120}),
    Part("board", 1, {"draw_watts": 30, "main": "main-24", "cpu_sockets": ["cpu-8"]}),
    Part("memory", 2, {"draw_watts": 5}),
    Part("storage", 1, {"kind": "ssd", "draw_watts": 4}),
    Part("graphics", 1, {"watts": 220, "plugs": ["gpu-8"]}),
    Part("cooling", 2, {"kind": "fan", "draw_watts": 3}),
    Part("ports", 4, {"kind": "usb2", "draw_watts": 2.5}),
)


def without(part, *more):
    """Give the round build without one part, and with others."""
    return [*(p for p in TOLD_PARTS if p.part != part), *more]
