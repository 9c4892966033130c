"""Invented strut corners, drawn from a seed, for checks that compare two ways to the same answer.

The ranges are wide enough for a road car, a rally car and a clumsy student drawing, and narrow enough that the whole
range of settings and motion can be assembled. No corner is a real car's. Millimetres and degrees.
"""

from __future__ import annotations

import numpy as np

# Half ranges of every setting and motion (mm, `clamp` and `roll` in deg); `hub_spacer` is a part that is added, so it goes one way only.
SETTING_RANGES = {
    "mount_in": (-20.0, 20.0),
    "mount_back": (-15.0, 15.0),
    "mount_up": (-12.0, 12.0),
    "tie_rod": (-4.0, 4.0),
    "clamp": (-2.5, 2.5),
    "arm": (-8.0, 8.0),
    "tie_outer_up": (-12.0, 12.0),
    "ball_joint_down": (-12.0, 15.0),
    "hub_spacer": (0.0, 15.0),
}
MOTION_RANGES = {"travel": (-60.0, 60.0), "rack": (-40.0, 40.0), "roll": (-3.0, 3.0)}
SIDES = {"left": 1.0, "right": -1.0}


def random_corner(seed, side):
    """One corner as the dictionary that `Corner.from_dict` takes; left and right of a seed are two different corners.

    The ball joint lies off the strut's axis by 5 to 130 mm, the rack lies ahead of the axle for even seeds and behind
    it for odd ones, camber and toe are not zero, every third corner each has a clamp pivot of its own and a top bearing
    that leans away from the strut, and every fifth one's rack is set askew.
    """
    outboard = SIDES[side]
    draw = np.random.default_rng([seed, 0 if side == "left" else 1])

    def point(x, y, z):
        """A point drawn from three ranges, `y` towards this corner's wheel."""
        return np.array([draw.uniform(*x), outboard * draw.uniform(*y), draw.uniform(*z)])

    origin = np.array([draw.uniform(-800.0, 800.0), 0.0, draw.uniform(-200.0, 200.0)])
    ball_joint = point((-12.0, 12.0), (670.0, 715.0), (165.0, 200.0))
    front = point((60.0, 190.0), (320.0, 370.0), (170.0, 210.0))
    rear = point((-300.0, -20.0), (320.0, 370.0), (170.0, 210.0))
    top = point((-65.0, -10.0), (515.0, 560.0), (800.0, 870.0))
    low = point((-25.0, 15.0), (580.0, 625.0), (400.0, 450.0))
    wheel_centre = point((-6.0, 6.0), (735.0, 765.0), (290.0, 320.0))
    along_car = (110.0, 145.0) if seed % 2 == 0 else (-145.0, -110.0)
    tie_outer = point(along_car, (675.0, 705.0), (195.0, 245.0))
    tie_inner = point(along_car, (315.0, 360.0), (195.0, 255.0))

    corner = {
        "lower_arm": {"front": front + origin, "rear": rear + origin, "ball_joint": ball_joint + origin},
        "strut": {"top": top + origin, "low": low + origin},
        "tie_rod": {"inner": tie_inner + origin, "outer": tie_outer + origin},
        "wheel": {
            "centre": wheel_centre + origin,
            "radius": draw.uniform(285.0, 320.0),
            "camber": draw.uniform(-4.0, 1.0),
            "toe": draw.uniform(-0.6, 0.6),
        },
    }
    if seed % 3 == 1:
        corner["strut"]["clamp"] = point((-20.0, 10.0), (600.0, 650.0), (290.0, 350.0)) + origin
    if seed % 3 == 2:
        corner["strut"]["bearing_axis"] = point((-0.15, 0.05), (-0.2, 0.05), (1.0, 1.0))
    if seed % 5 == 2:
        # Towards the left of the car on either side: there is one rack. Its length says nothing.
        skew, tilt = draw.uniform(-0.2, 0.2, size=2)
        corner["rack"] = {"direction": 2.0 * np.array([skew, 1.0, tilt])}
    return plain(corner)


def plain(table):
    """The same nested table with lists and floats in place of numpy's types, as a file would give it."""
    if isinstance(table, dict):
        return {name: plain(entry) for name, entry in table.items()}
    return table.tolist() if isinstance(table, np.ndarray) else float(table)


def random_case(seed, side):
    """Every setting and motion of a case by name, none of them zero. `seed` and `side` as in `random_corner`."""
    draw = np.random.default_rng([seed, 2 if side == "left" else 3])
    return {name: draw.uniform(*span) for name, span in (SETTING_RANGES | MOTION_RANGES).items()}


# Beyond what a car does, to where something runs out: over-centre, the end of the arm's arc, the strut's end.
FAR_SETTING_SCALE = 2.0
FAR_MOTION_RANGES = {"travel": (-550.0, 550.0), "rack": (-180.0, 180.0), "roll": (-8.0, 8.0)}


def random_far_case(seed, side):
    """Settings up to twice as far, and motion several times as far, as `random_case`: many cannot be reached."""
    draw = np.random.default_rng([seed, 4 if side == "left" else 5])
    settings = {name: FAR_SETTING_SCALE * draw.uniform(*span) for name, span in SETTING_RANGES.items()}
    # Every other case goes far in one of the two only: both together nearly always run out at the tie rod.
    motion = {name: draw.uniform(*span) for name, span in FAR_MOTION_RANGES.items()}
    if seed % 2 == 0:
        motion["rack"] *= 0.1
    else:
        motion["travel"] *= 0.2
    return settings | motion
