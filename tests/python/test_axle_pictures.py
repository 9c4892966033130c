"""Pictures of the axle: what they show is where the engine says, and the page in space runs in a real browser."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import AxLine
from matplotlib.text import Annotation, Text
from scipy.optimize import brentq

import strutsweep as ss
from strutsweep import plots

CARS = [ss.demo(name) for name in ss.demos()]
every_car = pytest.mark.parametrize("car", CARS, ids=ss.demos())

# A picture's coordinates are the numbers themselves.
DRAWN_MM = 1e-6
# The page rounds to a tenth of a millimetre.
PAGE_MM = 0.051

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
    "microsoft-edge",
)
DESKTOP_BROWSERS = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)


def texts(figure: Any) -> str:
    return " ".join(text.get_text() for text in figure.texts).replace("\N{MINUS SIGN}", "-")


def drawn_points(axes: Any) -> np.ndarray:
    return np.vstack([line.get_xydata() for line in axes.get_lines() if len(line.get_xydata())])


def has(points: np.ndarray, at: Any) -> bool:
    return bool(np.min(np.linalg.norm(points - np.asarray(at), axis=1)) < DRAWN_MM)


@every_car
@pytest.mark.parametrize("roll", [0.0, 2.0, -1.5])
def test_front_view_shows_the_centres_where_they_are(car: ss.Axle, roll: float) -> None:
    figure = plots.axle_front_view(car, roll=roll, travel=8.0, mount_in=3.0)
    ds = ss.sweep(car, roll=roll, travel=8.0, mount_in=3.0)
    points = drawn_points(figure.axes[0])
    for corner in (car.left, car.right):
        pose = corner.solve(roll=roll, travel=8.0, mount_in=3.0)
        for name in ("ball_joint", "strut_top", "contact_centre", "instant_centre", "tie_rod_outer"):
            assert has(points, pose.point(name)[1:]), name
    ground = car.left.solve(travel=8.0).point("contact_centre")[2]
    assert has(points, [float(ds.axle_roll_centre_shift), ground + float(ds.axle_roll_centre_height)])
    said = texts(figure)
    assert car.name in said and "strut top moved inboard +3 mm" in said.replace("Strut", "strut")
    height = float(ds.axle_roll_centre_height)
    assert f"Roll centre {abs(height):.1f} mm {'above' if height > 0.0 else 'below'} the ground" in said
    shift = float(ds.axle_roll_centre_shift)
    line = "the car's centre line"
    beside = (
        f"on {line}" if roll == 0.0 else f"{abs(shift):.1f} mm to the {'left' if shift > 0.0 else 'right'} of {line}"
    )
    assert beside in said
    assert ("leans to the right" in said) == (roll != 0.0)


def placed(axes: Any) -> tuple[Any, Any]:
    """The roll centre's name on the sheet, and the ground line's height, in pixels."""
    figure = axes.figure
    figure.draw_without_rendering()
    name = next(text for text in axes.texts if text.get_text() == "roll centre")
    ground = next(line for line in axes.get_lines() if line.get_zorder() == 0.5)
    y = axes.transData.transform((0.0, ground.get_ydata()[0]))[1]
    return name.get_window_extent(), y


@every_car
@pytest.mark.parametrize("travel", np.linspace(-30.0, 60.0, 19).tolist())
def test_name_of_the_roll_centre_is_not_struck_by_the_ground_line(car: ss.Axle, travel: float) -> None:
    axes = plots.axle_front_view(car, travel=travel, roll=0.1).axes[0]
    if not any(text.get_text() == "roll centre" for text in axes.texts):
        # Off the sheet: told in words.
        assert abs(float(ss.sweep(car, travel=travel, roll=0.1).axle_roll_centre_shift)) > 700.0
        return
    box, ground = placed(axes)
    assert not box.y0 < ground < box.y1
    inside = axes.get_window_extent()
    assert inside.y0 <= box.y0 and box.y1 <= inside.y1


def test_ground_of_unlike_corners_runs_through_both_contact_centres() -> None:
    car = CARS[0]
    car = car.with_corners(car.left, car.right.replace(wheel_radius=car.right.wheel_radius - 20.0))
    figure = plots.axle_front_view(car, roll=2.0)
    ds = ss.sweep(car, roll=2.0, places="contact_centre")
    left, right = (ds.contact_centre.sel(side=side).values[1:] for side in ("left", "right"))
    # 20 mm of radius, times the cosine of half a degree of camber.
    assert right[1] - left[1] == pytest.approx(20.0 * np.cos(np.radians(0.5)), abs=1e-9)
    # The roll centre is measured from the line through both: drawn so, it lies on both normals.
    shift, height = float(ds.axle_roll_centre_shift), float(ds.axle_roll_centre_height)
    share = (shift - right[0]) / (left[0] - right[0])
    at = np.array([shift, right[1] + share * (left[1] - right[1]) + height])
    assert has(drawn_points(figure.axes[0]), at)
    ground = next(line for line in figure.axes[0].get_lines() if isinstance(line, AxLine))
    assert ground.get_slope() == pytest.approx((left[1] - right[1]) / (left[0] - right[0]), abs=1e-12)
    at_centre_line = right[1] + right[0] / (right[0] - left[0]) * (left[1] - right[1])
    assert ground.get_xy1()[1] == pytest.approx(at_centre_line, abs=1e-9)
    said = texts(figure)
    assert "contact centres stand 20.0 mm apart" in said and "inboard of its contact centre" in said
    with pytest.raises(ss.InputError, match="mount_inn"):
        plots.axle_front_view(car, mount_inn=1.0)


def test_parallel_normals_are_told_in_front_view_and_path() -> None:
    # Lowered until the contact centres go straight up.
    car = CARS[0]
    level = brentq(lambda travel: car.left.solve(travel=travel).roll_centre_height, 0.0, 75.0, xtol=1e-12)
    assert "Roll centre: none" in texts(plots.axle_front_view(car, travel=level))
    ds = ss.sweep(car, travel=[0.0, 10.0, level, 50.0, 60.0])
    axes = plots.roll_centre_path(ds).axes[0]
    assert "No roll centre at 1 of 5 places" in texts(axes.figure)
    # The path is not drawn through the place that has none.
    for line in axes.get_lines():
        heights = np.asarray(line.get_ydata(), dtype=float)
        if heights.size > 2:
            assert not (np.isfinite(heights).all() and heights.min() < -1.0 and heights.max() > 1.0)


def test_path_is_not_drawn_through_infinity() -> None:
    # Rolled a little and lowered, the two normals run parallel between two places of the sweep, and change order.
    ds = ss.sweep(CARS[1], travel=np.linspace(-60.0, 60.0, 25), roll=1.0)
    axes = plots.roll_centre_path(ds).axes[0]
    pieces = [np.asarray(line.get_xdata()) for line in axes.get_lines() if len(line.get_xdata()) > 2]
    assert sorted(len(piece) for piece in pieces) == [9, 16]
    for piece in pieces:
        assert (np.sign(piece) == np.sign(piece[0])).all()


def test_arm_shows_under_a_tie_rod_that_lies_on_it() -> None:
    # A tie rod that is a copy of the arm, behind it: one line in front view.
    left = CARS[0].left
    arm = [left.point("arm_front"), left.point("ball_joint")]
    arm[0][1:] = left.point("arm_rear")[1:]
    back = np.array([-120.0, 0.0, 0.0])
    corner = left.replace(arm_front=arm[0], tie_rod_inner=arm[0] + back, tie_rod_outer=arm[1] + back)
    for one, dashed in ((corner, True), (left, False)):
        rods = [
            line
            for line in plots.axle_front_view(CARS[0].with_corners(one)).axes[0].get_lines()
            if line.get_label() == "tie_rod"
        ]
        assert len(rods) == 2 and all(line.is_dashed() == dashed for line in rods)


@every_car
@pytest.mark.parametrize("angle", [-30.0, 20.0])
def test_turn_view_shows_the_turn_centre(car: ss.Axle, angle: float) -> None:
    figure = plots.turn_view(car, inner_steer=angle)
    ds = ss.sweep(car, inner_steer=angle, places="contact_centre")
    points = drawn_points(figure.axes[0])
    outer = "right" if angle > 0.0 else "left"
    contact = ds.contact_centre.sel(side=outer).values
    design = car.left.solve().point("contact_centre")[0]
    rear = design - car.dimensions["wheelbase"]
    # The turn centre lies on the rear axle's line, square to the outer wheel, half a turning circle from it.
    across = np.sqrt((float(ds.turning_circle) / 2.0) ** 2 - (contact[0] - rear) ** 2) * np.sign(angle)
    assert has(points, [-(contact[1] + across), rear])
    said = texts(figure)
    assert f"{float(ds.turning_circle) / 1000.0:.2f} m" in said
    assert ("turning left" in said) == (angle > 0.0)
    # CHECKS relation 4: lines through the kingpins' points meet a wheelbase x 100 / per cent behind the front axle.
    wheelbase = car.dimensions["wheelbase"]
    behind = 100.0 / float(ds.ackermann_by_cotangent) * wheelbase / 1000.0
    assert f"through the steering axes' points on the ground at design: they meet {behind:.2f} m behind" in said
    # The wheels' own axle lines: by numpy, from contact centres and headings.
    steer = np.radians(ds.wheel_steer.values)
    along = np.stack([-np.sin(steer), np.cos(steer)])
    feet = ds.contact_centre.sel(xyz=["x", "y"]).values
    shares = np.linalg.solve(np.column_stack([along[:, 0], -along[:, 1]]), feet[1] - feet[0])
    own = (design - (feet[0] + shares[0] * along[:, 0])[0]) / 1000.0
    assert f"through the contact centres: they meet {own:.2f} m behind" in said
    assert "rear wheels straight, their track as the front's" in said and "Zero travel holds ride height" in said


def test_turn_view_draws_both_constructions_where_they_fit() -> None:
    # Outer joints farther inboard: Ackermann by half, and both crossings near.
    left = CARS[1].left
    car = CARS[1].with_corners(left.replace(tie_rod_outer=left.point("tie_rod_outer") + [0.0, 25.0, 0.0]))
    ds = ss.sweep(car, inner_steer=32.0)
    axes = plots.turn_view(car, inner_steer=32.0).axes[0]
    kingpins = [corner.solve().point("steering_axis_at_ground")[1] for corner in (car.left, car.right)]
    front = car.left.solve().point("contact_centre")[0]
    marks = drawn_points(axes)
    for kingpin in kingpins:
        assert has(marks, [-kingpin, front])
    behind = 100.0 / float(ds.ackermann_by_cotangent) * car.dimensions["wheelbase"]
    inner = np.radians(float(ds.inner_wheel_steer))
    assert has(marks, [-(kingpins[0] + behind / np.tan(inner)), front - behind])
    labels = [text.get_text() for text in axes.figure.legends[0].get_texts()]
    assert "where the axle lines meet" in labels and "Ackermann's lines, and where they meet" in labels


def test_carpet_is_a_net_of_the_reading() -> None:
    rolls, racks = np.linspace(-3.0, 3.0, 5), np.linspace(-40.0, 40.0, 7)
    ds = ss.sweep(CARS[0], roll=rolls, rack=racks).sel(side="right")
    axes = plots.carpet(ds, "camber").axes[0]
    lines = [line.get_ydata() for line in axes.get_lines()]
    assert len(lines) == 5 + 7
    for roll in range(5):
        np.testing.assert_array_equal(lines[roll], ds.camber.transpose("rack", "roll").values[:, roll])
    # Every crossing stands at one place of the level axis, whichever line goes through it.
    x = [line.get_xdata() for line in axes.get_lines()]
    for i in range(7):
        np.testing.assert_allclose([x[j][i] for j in range(5)], x[5 + i], rtol=1e-12)
    words = " ".join(text.get_text() for text in axes.texts).replace("\N{MINUS SIGN}", "-")
    assert "+3 deg" in words and "+40 mm" in words and "-1.5" in words
    said = texts(axes.figure)
    for part in ("+ body leans to the right", "+ toward the left of the car", "holds ride height", "tie rod keeps"):
        assert part in said
    assert "All settings zero" in said


def test_carpet_beyond_over_centre_names_its_lines_where_they_end() -> None:
    ds = ss.sweep(CARS[0].left, roll=[-2.0, 0.0, 2.0], rack=np.linspace(-160.0, 40.0, 11))
    lost = int(ds.camber.isnull().sum())
    assert 0 < lost < ds.camber.size
    for order in (("roll", "rack"), ("rack", "roll")):
        figure = plots.carpet(ds.transpose(*order), "camber")
        axes = figure.axes[0]
        assert f"No camber at {lost} of 33 places" in texts(figure)
        names = {text.get_text(): text for text in axes.texts if isinstance(text, Annotation)}
        at = np.array([text.xy for text in names.values()])
        assert np.isfinite(at).all()
        # Every line of which a part is there is named: three rolls, and the racks that are reached.
        reached = int(ds.camber.notnull().any("roll").sum())
        assert len(names) == 3 + reached or len(names) == 3 + reached - 1
        assert any(name.startswith("+40") and name.endswith("mm") for name in names)
        assert any(name.startswith("+2 deg") for name in names)


@pytest.mark.parametrize("reading", ["camber", "toe", "caster"])
@pytest.mark.parametrize("first", ["rack", "roll", "travel"])
def test_labels_of_a_carpet_that_folds_stand_beside_each_other(first: str, reading: str) -> None:
    inputs = {"rack": np.linspace(-60.0, 60.0, 13), "roll": np.linspace(-3.0, 3.0, 7), "travel": np.linspace(-60.0, 60.0, 9)}
    second = {"rack": "travel", "roll": "rack", "travel": "rack"}[first]
    ds = ss.sweep(CARS[0].left, **{name: inputs[name] for name in (first, second)}, readings=[reading])
    figure = plots.carpet(ds.transpose(first, second), reading)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    labels = [text for text in figure.axes[0].texts if isinstance(text, Annotation)]
    assert len(labels) == ds.sizes[first] + ds.sizes[second]
    # Letters are not as high as their box, nor as wide by its rim.
    boxes = [Text.get_window_extent(label, canvas.get_renderer()).padded(-1.0) for label in labels]
    overlapping = [
        (one.get_text(), other.get_text())
        for i, one in enumerate(labels)
        for j, other in enumerate(labels[:i])
        if boxes[i].overlaps(boxes[j])
    ]
    assert overlapping == []


def test_carpet_says_what_was_set_and_held() -> None:
    ds = ss.sweep(CARS[0], inner_steer=[10.0, 20.0], roll=[0.0, 2.0], mount_in=4.0, tie_rod=0.5, travel_at="hub")
    said = texts(plots.carpet(ds.sel(side="left"), "camber_to_body"))
    for part in (
        "+ to the left",
        "holds hub height",
        "strut top moved inboard +4 mm",
        "tie-rod length changed +0.5 mm",
    ):
        assert part in said.replace("Strut", "strut")
    assert "keeps its length" not in said and "left corner" in said


def test_path_of_the_roll_centre_is_the_sweep_s() -> None:
    ds = ss.sweep(CARS[1], roll=np.linspace(-3.0, 3.0, 13))
    axes = plots.roll_centre_path(ds).axes[0]
    points = drawn_points(axes)
    for i in range(13):
        assert has(points, [float(ds.axle_roll_centre_shift[i]), float(ds.axle_roll_centre_height[i])])
    said = texts(axes.figure)
    for part in ("+ body leans to the right", "holds ride height", "All settings zero", "tie rod keeps its length"):
        assert part in said


REFUSALS: list[tuple[Any, str]] = [
    (lambda: plots.turn_view(CARS[0], rack=5.0, inner_steer=3.0), "rack"),
    (lambda: plots.turn_view(CARS[0], inner_steer=85.0), "inner_steer"),
    (lambda: plots.turn_view(CARS[0], rack=0.0), "rack"),
    (lambda: plots.turn_view(ss.Axle.from_corners(CARS[0].left)), "axle.wheelbase"),
    (lambda: plots.carpet(ss.sweep(CARS[0].left, roll=[0.0, 1.0]), "camber"), "dataset"),
    (lambda: plots.carpet(ss.sweep(CARS[0], roll=[0.0, 1.0]), "camber"), "dataset"),
    (lambda: plots.carpet(ss.sweep(CARS[0].left, roll=[0.0, 1.0], rack=[0.0]), "camber"), "dataset"),
    (lambda: plots.carpet(ss.sweep(CARS[0].left, roll=[0.0, 1.0]), "steering"), "reading"),
    (lambda: plots.roll_centre_path(ss.sweep(CARS[0].left, roll=[0.0, 1.0])), "dataset"),
    (lambda: plots.roll_centre_path(ss.sweep(CARS[0], roll=[0.0, 1.0], rack=[0.0, 1.0])), "dataset"),
    (lambda: plots.roll_centre_path(ss.sweep(CARS[0], rack=[400.0, 500.0])), "dataset"),
    (lambda: plots.turn_view(CARS[0], rack=float("nan")), "rack"),
    (lambda: plots.turn_view(CARS[0], rack=400.0), "rack"),
    (lambda: plots.turn_view(CARS[0], inner_steer=80.0), "inner_steer"),
    (lambda: plots.turn_view(CARS[0], inner_steer=[10.0, 20.0]), "inner_steer"),  # type: ignore[arg-type]
    (lambda: plots.turn_view(CARS[0], inner_steer=20.0, mount_in=[1.0, 2.0]), "mount_in"),
    (lambda: plots.turn_view(CARS[0], inner_steer=20.0, readings="camber"), "readings"),
    (lambda: plots.carpet(ss.sweep(CARS[0].left, roll=[0.0, 1.0], rack=[300.0, 400.0]), "camber"), "dataset"),
    (lambda: plots.save_three_dimensional(CARS[0], "axle.html", travel="low"), "travel"),  # type: ignore[arg-type]
    (lambda: plots.save_three_dimensional(CARS[0], "a.html", mount_in=[1.0, 2.0]), "mount_in"),  # type: ignore[arg-type]
    (lambda: plots.save_three_dimensional(CARS[0], "axle.html", mount_inn=1.0), "mount_inn"),
    (lambda: plots.save_three_dimensional(CARS[0], "axle.htm"), "path"),
    (lambda: plots.save_three_dimensional(CARS[0], "axle.html", travel=[3.0, 1.0]), "travel"),
    (lambda: plots.save_three_dimensional(CARS[0], "axle.html", roll=[]), "roll"),
    (lambda: plots.save_three_dimensional(CARS[0], "axle.html", travel=range(60), rack=range(60)), "travel"),
]


@pytest.mark.parametrize(("ask", "name"), REFUSALS, ids=range(len(REFUSALS)))
def test_pictures_that_cannot_be_are_refused_by_name(ask: Any, name: str) -> None:
    with pytest.raises(ss.InputError) as caught:
        ask()
    assert caught.value.name == name


def test_without_plotly_the_page_is_refused_in_words(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "plotly", None)
    with pytest.raises(ss.InputError, match="pip install"):
        plots.save_three_dimensional(CARS[0], tmp_path / "axle.html", travel=[0.0], rack=[0.0])


@pytest.fixture(scope="session")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "axle.html"
    # The last rack is beyond over-centre: the page must say so and go on.
    return plots.save_three_dimensional(
        CARS[0], path, travel=[-30.0, 0.0, 30.0], rack=[-40.0, 0.0, 40.0, 140.0], roll=[-2.0, 0.0, 2.0], mount_in=2.0
    )


def test_page_holds_everything_and_needs_no_network(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    # Nothing is fetched: links for the reader to follow are no part of the page.
    assert not re.search(r'<(script|link|img|iframe)[^<>]{0,200}?\s(src|href)="(https?:)?//', text)
    data = json.loads(re.search(r"const car = (\{.*\});", text)[1].replace("<\\/", "</"))  # type: ignore[index]
    assert data["sliders"] == {
        "travel": [-30.0, 0.0, 30.0],
        "rack": [-40.0, 0.0, 40.0, 140.0],
        "roll": [-2.0, 0.0, 2.0],
    }
    assert len(data["frames"]) == len(data["tables"]) == 36
    # Travel 30, rack -40, roll 2: the last place of its kind.
    place = 2 * 12 + 0 * 3 + 2
    pose = CARS[0].right.solve(travel=30.0, rack=-40.0, roll=2.0, mount_in=2.0)
    assert data["tables"][place]["right"]["camber"].replace("\N{MINUS SIGN}", "-") == f"{pose.camber:+.2f}"
    for part, name in ((0, "ball_joint"), (1, "strut_top"), (2, "tie_rod_outer"), (4, "wheel_centre")):
        drawn = np.array(data["frames"][place][part], dtype=float).T
        assert np.nanmin(np.linalg.norm(drawn - pose.point(name), axis=1)) < PAGE_MM * 2.0, name
    assert data["tables"][2 * 12 + 3 * 3]["right"]["toe"] == "out of reach"
    # The ground lies under the contact centres.
    ground = np.array(data["frames"][place][6], dtype=float).T
    np.testing.assert_allclose(ground[np.isfinite(ground[:, 2]), 2], pose.point("contact_centre")[2], atol=PAGE_MM)
    assert "Zero travel holds ride height (travel measured at the ground)" in text
    assert "strut top moved inboard +2 mm (+ toward the car&#x27;s centre line)" in text.replace("Strut", "strut")
    # No zero bears a minus sign.
    assert not any(re.fullmatch(r"[+\N{MINUS SIGN}-]0\.00", cell) for table in data["tables"] for cell in _cells(table))


def _cells(table: dict[str, dict[str, str]]) -> list[str]:
    return [text for readings in table.values() for text in readings.values()]


def browser() -> str | None:
    """A browser that runs without a screen: the one that STRUTSWEEP_BROWSER names, one on the path, or a desktop's."""
    named = os.environ.get("STRUTSWEEP_BROWSER")
    on_path = (found for name in BROWSERS if (found := shutil.which(name)))
    return named or next(on_path, None) or next((name for name in DESKTOP_BROWSERS if Path(name).exists()), None)


# Moves every slider as a hand would, and writes what it sees into the page.
_DRIVER = """
<script>
window.addEventListener("load", () => setTimeout(() => {
  const seen = {errors: window.__errors || [], places: []};
  const drawing = document.getElementById("drawing");
  for (const [travel, rack, roll] of [[1, 1, 1], [2, 0, 2], [2, 3, 0]]) {
    for (const [name, value] of Object.entries({travel, rack, roll})) {
      const slider = document.getElementById(name);
      slider.value = value;
      slider.dispatchEvent(new Event("input"));
    }
    seen.places.push({
      place: Number(document.body.dataset.place),
      arm: [drawing.data[0].x[1], drawing.data[0].y[1], drawing.data[0].z[1]],
      camber: document.getElementById("right-camber").textContent,
      shown: document.getElementById("travel-shown").textContent,
    });
  }
  // Every position of every slider, the others left where they are.
  seen.moved = {};
  for (const name of ["travel", "rack", "roll"]) {
    const slider = document.getElementById(name);
    seen.moved[name] = [];
    for (let value = Number(slider.min); value <= Number(slider.max); value++) {
      slider.value = value;
      slider.dispatchEvent(new Event("input"));
      seen.moved[name].push([Number(document.body.dataset.place), drawing.data[4].z[0]]);
    }
  }
  seen.scenes = drawing.querySelectorAll(".gl-container canvas").length;
  const note = document.createElement("pre");
  note.id = "seen";
  note.textContent = JSON.stringify(seen);
  document.body.appendChild(note);
}, 300));
window.__errors = [];
window.addEventListener("error", event => window.__errors.push(String(event.message)));
</script>
</body>"""


def test_page_runs_in_a_browser(page: Path, tmp_path: Path) -> None:
    found = browser()
    if found is None:
        pytest.skip(
            "NO BROWSER on this machine: the page in space was NOT RUN. Install Chromium, Chrome or Edge, or name one in"
            " STRUTSWEEP_BROWSER."
        )
    driven = tmp_path / "driven.html"
    driven.write_text(page.read_text(encoding="utf-8").replace("</body>", _DRIVER), encoding="utf-8")
    command = [found, "--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--use-angle=swiftshader"]
    command += ["--enable-unsafe-swiftshader", f"--user-data-dir={tmp_path / 'profile'}", "--virtual-time-budget=20000"]
    # No name on any network is found.
    command += ["--host-resolver-rules=MAP * ~NOTFOUND"]
    ran = subprocess.run(
        [*command, "--dump-dom", driven.as_uri()], capture_output=True, text=True, timeout=180, check=False
    )
    noted = re.search(r'<pre id="seen">(.*?)</pre>', ran.stdout, flags=re.DOTALL)
    assert noted, f"the page did not run\n{ran.stderr[-2000:]}"
    seen = json.loads(noted[1].replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">"))
    assert seen["errors"] == []
    assert seen["scenes"] >= 1
    # Travel, rack, roll of four and three positions each after the first.
    assert [entry["place"] for entry in seen["places"]] == [1 * 12 + 1 * 3 + 1, 2 * 12 + 0 * 3 + 2, 2 * 12 + 3 * 3 + 0]
    pose = CARS[0].left.solve(travel=30.0, rack=-40.0, roll=2.0, mount_in=2.0)
    np.testing.assert_allclose(seen["places"][1]["arm"], pose.point("ball_joint"), rtol=0.0, atol=PAGE_MM)
    right = CARS[0].right.solve(travel=30.0, rack=-40.0, roll=2.0, mount_in=2.0)
    assert seen["places"][1]["camber"].replace("\N{MINUS SIGN}", "-") == f"{right.camber:+.2f}"
    assert seen["places"][1]["shown"] == "+30 mm"
    # From travel 30, rack 140, roll -2 on: travel to its end, then rack, then roll; the drawing is redrawn each time.
    data = json.loads(re.search(r"const car = (\{.*\});", page.read_text(encoding="utf-8"))[1].replace("<\\/", "</"))  # type: ignore[index]
    expected = {
        "travel": [i * 12 + 3 * 3 for i in range(3)],
        "rack": [2 * 12 + i * 3 for i in range(4)],
        "roll": [2 * 12 + 3 * 3 + i for i in range(3)],
    }
    for name, places in expected.items():
        assert [place for place, _ in seen["moved"][name]] == places
        for place, z in seen["moved"][name]:
            knuckle = data["frames"][place][4][2]
            assert z == (knuckle[0] if knuckle else None)


def test_one_wheel_of_an_axle_is_drawn_as_a_corner() -> None:
    ds = ss.sweep(CARS[0], travel=np.linspace(-40.0, 40.0, 9), rack=[-20.0, 0.0, 20.0])
    for figure in (
        plots.against_travel(ds.sel(side="right"), readings="camber"),
        plots.against_travel(ds, readings="camber", at={"side": "right"}),
    ):
        assert figure.texts[0].get_text() == "Gravel hatch, right corner"
    lines = [line.get_ydata() for line in figure.axes[0].get_lines() if len(line.get_ydata()) == 9]
    assert any(np.array_equal(y, ds.camber.sel(side="right", rack=20.0).values) for y in lines)
