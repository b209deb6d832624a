"""Makes the recorded elevations of made_tracks.csv with NumPy and SciPy.

20 km at 20 m/s, a row a second. Each column is a road of known climb with the noise of a receiver:
its name, and the climb and the descent of the road in m, integrated by SciPy, stand in comments.

    python make.py > made_tracks.csv
"""

import numpy as np
from scipy.integrate import quad
from scipy.interpolate import UnivariateSpline
from scipy.signal import lfilter

rng = np.random.default_rng(20)
speed, length = 20.0, 20_000.0
time = np.arange(0, length / speed + 1)
along = speed * time


def drift(sd, s):
    """Gauss-Markov noise of a satellite receiver: standard deviation, time constant in s."""
    keep = np.exp(-1 / s)
    noise = rng.normal(0, sd * np.sqrt(1 - keep**2), len(time))
    noise[0] = rng.normal(0, sd)
    return lfilter([1], [1, -keep], noise)


def climb(slope, sign=1):
    places = np.arange(0, length + 1, 50)
    pieces = zip(places, places[1:])
    return sum(quad(lambda x: max(sign * slope(x), 0), a, b)[0] for a, b in pieces)


def sine(high, wave):
    height = lambda x: high * np.sin(np.pi * x / wave) ** 2
    return height, lambda x: high * np.pi / wave * np.sin(2 * np.pi * x / wave)


# Grades of 5 % up and down, joined by vertical curves of 150 m: crests each kilometre.
at = [0, 75, 425, 575, 925, 1000]
curved_slope = lambda x: np.interp(x % 1000, at, [0, 0.05, 0.05, -0.05, -0.05, 0])
fine = np.arange(0, length + 1, 1.0)
sums = np.concatenate([[0], np.cumsum((curved_slope(fine[1:]) + curved_slope(fine[:-1])) / 2)])
curved = lambda x: np.interp(x, fine, sums)
knots = np.arange(0, length + 1, 500)
spline = UnivariateSpline(knots, np.cumsum(rng.normal(0, 9, len(knots))), k=4, s=0)

roads = {
    "sine_uniform_3": (*sine(25, 1000), rng.uniform(-3, 3, len(time)), 0),
    "sine_whole_metres": (*sine(25, 1000), 0.3 * rng.normal(size=len(time)), 0),
    "low_sine_uniform_3": (*sine(10, 1000), rng.uniform(-3, 3, len(time)), 1),
    "sine_drift": (*sine(25, 1000), drift(2, 60) + rng.normal(0, 0.7, len(time)), 1),
    "curved_whole_metres": (curved, curved_slope, 0.3 * rng.normal(size=len(time)), 0),
    "curved_drift": (curved, curved_slope, drift(2, 60) + rng.normal(0, 0.7, len(time)), 1),
    "spline_uniform_3": (spline, spline.derivative(), rng.uniform(-3, 3, len(time)), 1),
    "level_uniform_3": (lambda x: 0 * x, lambda x: 0, rng.uniform(-3, 3, len(time)), 1),
    "level_drift": (
        lambda x: 0 * x, lambda x: 0, drift(2, 60) + rng.normal(0, 0.7, len(time)), 1,
    ),
}
print("# Made by make.py beside this file. Each road: climb and descent in m.")
columns = []
for name, (height, slope, noise, digits) in roads.items():
    print(f"# {name} {climb(slope):.2f} {climb(slope, -1):.2f}")
    columns.append([f"{h:.{digits}f}" for h in 300 + height(along) + noise])
print(",".join(["time_s", *roads]))
for second, row in zip(time, zip(*columns)):
    print(",".join([f"{second:.0f}", *row]))
