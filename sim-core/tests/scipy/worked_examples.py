"""Integrates the two printed acceleration equations of Larminie & Lowry, Electric Vehicle
Technology Explained, performance-modelling chapter (from memory), and writes what the tests in
worked_examples.rs compare with.

Made with SciPy 1.17.1: solve_ivp, method DOP853, rtol 1e-11, atol 1e-12.
Run:  python worked_examples.py

The printed coefficients are rounded to three figures, and in the two-seater's the two branches
do not quite meet: at 19.8 m/s the first gives 3.056, the second 3.037 m/s^2.
"""

import numpy as np
import scipy
from scipy.integrate import solve_ivp

MPH = 0.44704


def two_seater(v):
    if v <= 19.8:
        return 3.11 - 0.000137 * v * v
    return 62.1 / v - 0.046 - 0.000137 * v * v


def scooter(v):
    if v <= 10.8:
        return 1.57 - 0.00145 * v * v
    return 7.30 - 0.53 * v - 0.00145 * v * v


def run(law, knee, end_s):
    """Two smooth pieces, so that the solver never steps over the knee."""

    def rates(_, y):
        return [law(y[0]), y[0]]

    def at_knee(_, y):
        return y[0] - knee

    at_knee.terminal = True
    options = dict(method="DOP853", rtol=1e-11, atol=1e-12, dense_output=True)
    first = solve_ivp(rates, (0, end_s), [0, 0], events=at_knee, **options)
    t, y = first.t_events[0][0], first.y_events[0][0]
    # A hair above the knee the second branch holds.
    second = solve_ivp(rates, (t, end_s), [knee * (1 + 1e-13), y[1]], **options)
    return lambda s: (first.sol(s) if s <= t else second.sol(s))


def passing(path, end_s, index, value):
    low, high = 0.0, end_s
    for _ in range(200):
        middle = 0.5 * (low + high)
        if path(middle)[index] < value:
            low = middle
        else:
            high = middle
    return high


def trace(name, head, path, end_s):
    with open(name, "w") as out:
        out.write(head + "time_s,speed_mps,distance_m\n")
        for t in np.arange(0.5, end_s + 0.25, 0.5):
            v, x = path(t)
            out.write(f"{t:.1f},{v:.9f},{x:.9f}\n")


def write(name, law, knee, end_s, speeds_mph, distances_m, traced=True):
    path = run(law, knee, end_s)
    head = f"# SciPy {scipy.__version__}, worked_examples.py\n"
    if traced:
        trace(f"{name}_speed.csv", head, path, end_s)
    with open(f"{name}_times.csv", "w") as out:
        out.write(head + "what,value,time_s\n")
        for mph in speeds_mph:
            out.write(f"speed_mph,{mph},{passing(path, end_s, 0, mph * MPH):.9f}\n")
        for metres in distances_m:
            out.write(f"distance_m,{metres},{passing(path, end_s, 1, metres):.9f}\n")


write("two_seater", two_seater, 19.8, 25.0, [30, 50, 60, 80], [100, 200, 402.336])
write("scooter", scooter, 10.8, 15.0, [10, 20, 25, 28], [50, 100, 130])
# Distances that fall after the scooter has all but reached its top speed.
write("scooter_beyond", scooter, 10.8, 60.0, [], [200, 402.336, 500], traced=False)
