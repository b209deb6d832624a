"""Coast-downs with a known truth, integrated by SciPy: `python make.py > tests.txt`.

Each test is one car on one road: rolling resistance (with its growth with speed) and drag area are drawn,
the car coasts to and fro in a wind along the road and on a slope, and a sensor of 0.2 m/s noise writes the
speed at 1 or 10 Hz with a second missing here and there. In one test of five a brake is tapped.

Further kinds stand after these. `lag`: a sensor of first order behind the car, which gathered speed until
the run begins. `drift`: 10 Hz, less noise, and a wind that drifts within each run and from run to run.
`growth`: a tyre whose rolling resistance grows with speed more than is usual.

The file has a line a test and a line a run:
    test mass_kg moving_kg air_c altitude_m density rolling rolling_per_mps drag_area_m2 kind
    run way hz taps first gaps speeds
Speeds are in steps of 0.05 m/s: what each differs from the one before, from 0, as a letter (see `word`);
`.` where one is missing.
"""

import sys

import numpy as np
from scipy.integrate import solve_ivp

G = 9.80665
RNG = np.random.default_rng(20240611)


def density(air_c, altitude_m):
    # ISO 2533, dry air at the altitude's standard pressure.
    pressure = 101325.0 * (1 - 0.0065 * altitude_m / 288.15) ** (G / (287.05287 * 0.0065))
    return pressure / (287.05287 * (air_c + 273.15))


def coast(car, way, start_mps, wind_mps, gusts, extra):
    """Speed by time down to 4 m/s, every tenth of a second."""
    mass, moving, rho, c0, c1, area, slope = car

    def rate(t, y):
        v = y[0]
        gust = np.interp(t, gusts[0], gusts[1]) if gusts is not None else 0.0
        air = v + way * wind_mps + gust
        force = mass * G * (c0 + c1 * v) + 0.5 * rho * area * air * abs(air) + way * mass * G * slope
        return [-(force + extra(t)) / moving]

    slow = lambda t, y: y[0] - 4.0
    slow.terminal = True
    end = 400.0
    # A tap on the brake is short: steps are kept shorter.
    found = solve_ivp(rate, (0, end), [start_mps], events=slow, max_step=0.5, rtol=1e-8, dense_output=True)
    times = np.arange(0, found.t[-1], 0.1)
    return times, found.sol(times)[0]


def gusting(length_s=400.0, deviation=0.6, tau=8.0):
    """A first-order Gauss-Markov wind along the road."""
    times = np.arange(0, length_s, 0.5)
    keep = np.exp(-0.5 / tau)
    noise = RNG.normal(0, deviation * np.sqrt(1 - keep * keep), len(times))
    values = np.zeros(len(times))
    values[0] = RNG.normal(0, deviation)
    for i in range(1, len(times)):
        values[i] = keep * values[i - 1] + noise[i]
    return times, values


LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"


def word(difference):
    """A letter for -26 to 25, else the number between brackets."""
    if -26 <= difference <= 25:
        return LETTERS[difference + 26]
    return f"({difference})"


def written(speeds):
    """Speeds with `.` for one that is missing."""
    text, before = "", 0
    for speed in speeds:
        if np.isnan(speed):
            text += "."
            continue
        value = int(round(20 * speed))
        text += word(value - before)
        before = value
    return text


def lagging(speeds, tau, gathering):
    """What a sensor of first order shows a tenth of a second apart, of a car that gathered speed before."""
    keep, at, found = np.exp(-0.1 / tau), speeds[0] - tau * gathering, []
    for speed in speeds:
        at = keep * at + (1 - keep) * speed
        found.append(at)
    return np.array(found)


def one(kind, hz, start_kmh, pairs):
    mass = RNG.uniform(650, 1500)
    moving = mass * RNG.uniform(1.025, 1.04)
    air_c, altitude = RNG.uniform(5, 32), RNG.uniform(0, 900)
    rho = density(air_c, altitude)
    c0, c1 = RNG.uniform(0.008, 0.016), RNG.uniform(0, 3e-5) * 3.6
    if kind == "growth":
        c1 = 4e-5 * 3.6
    area = RNG.uniform(0.45, 0.95)
    slope = 0.001 * RNG.choice([-1, 1])
    wind = 0.8 * RNG.choice([-1, 1])
    car = (mass, moving, rho, c0, c1, area, slope)
    taps = RNG.random() < 0.2
    tapped = RNG.integers(2 * pairs) if taps else -1
    lines = []
    for run in range(2 * pairs):
        way = 1 if run % 2 == 0 or kind == "oneway" else -1
        start = start_kmh / 3.6 + RNG.uniform(-1, 1)
        gusts = gusting() if kind == "gusty" else None
        if kind == "drift":
            gusts = gusting(deviation=0.3, tau=10.0)
            gusts = (gusts[0], gusts[1] + RNG.normal(0, 0.3))
        extra = lambda t: 0.0
        if run == tapped:
            at, lasts = RNG.uniform(8, 35), RNG.uniform(0.5, 2.0)
            hard = mass * RNG.uniform(0.5, 2.0)
            extra = lambda t: hard if at <= t <= at + lasts else 0.0
        if kind == "gear" and run == 2:
            until = RNG.uniform(8, 60)
            extra = lambda t: mass * 0.2 if t < until else 0.0
        times, speeds = coast(car, way, start, wind, gusts, extra)
        if kind == "lag":
            speeds = lagging(speeds, RNG.uniform(1, 2), RNG.uniform(0, 1.5))
        speeds = speeds[:: 10 // hz]
        speeds = speeds + RNG.normal(0, 0.15 if kind == "drift" else 0.2, len(speeds))
        # A second is missing, once in half a minute.
        for _ in range(max(1, len(speeds) // (30 * hz))):
            at = RNG.integers(hz, len(speeds) - 2 * hz)
            speeds[at : at + hz] = np.nan
        lines.append(f"run {way} {hz} {int(run == tapped)} {written(speeds)}")
    print(f"test {mass:.3f} {moving:.3f} {air_c:.2f} {altitude:.1f} {rho:.6f} {c0:.6f} {c1:.4e} {area:.5f} {kind}")
    print("\n".join(lines))


def main(tests):
    # Nine of ten at 1 Hz, so that the file stays small.
    for test in range(tests):
        one("plain", 10 if test % 10 == 0 else 1, RNG.choice([80, 100, 120]), RNG.integers(3, 6))
    for test in range(tests // 10):
        one("gusty", 1, 100, 5)
    for test in range(tests // 10):
        one("gear", 1, 100, 4)
    for test in range(tests // 10):
        one("oneway", 1, 100, 3)
    for test in range(tests // 20):
        one("slow", 1, 45, 3)
    for test in range(tests // 10):
        one("lag", 1, 100, 4)
    for test in range(tests // 10):
        one("drift", 10, 95, 3)
    for test in range(tests // 10):
        one("growth", 1, 100, 4)


main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
