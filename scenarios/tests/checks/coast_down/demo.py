"""The invented outings of the demo and of the book, integrated by SciPy.

`python demo.py demo > ../../../demo/coast-down.csv`, `python demo.py book > ../../../../docs/builds/coast.csv`

The demo: six coasts to and fro from 85 km/h, at 1 Hz, with the driving in between, a sensor of 0.2 m/s noise,
a wind of 0.7 m/s that gusts a little, a slope of 0.08 % and a brake that is tapped in the third. The book:
four coasts from 55 km/h, too slow for the drag area, every two seconds.
"""

import sys

import numpy as np
from scipy.integrate import solve_ivp

G = 9.80665


def outing(seed, mass, turning, rho, rolling, growth, area, starts, every, tapped):
    rng = np.random.default_rng(seed)
    times, speeds = [0.0], [0.0]

    def drive(rate, until, v):
        found = solve_ivp(rate, (0, 300), [v], events=until, max_step=0.5, dense_output=True)
        ts = np.arange(0, found.t[-1], 0.1)
        before = times[-1]
        times.extend(before + 0.1 + ts)
        speeds.extend(found.sol(ts)[0])
        return speeds[-1]

    def ends(speed, direction):
        def event(t, y):
            return y[0] - speed

        event.terminal, event.direction = True, direction
        return event

    way, v = 1, 0.0
    for i, start in enumerate(starts):
        v = drive(lambda t, y: [1.5], ends(start, 1), v)
        wind = way * 0.7 + rng.normal(0, 0.2)

        def coasting(t, y):
            air = y[0] + wind
            force = mass * G * (rolling + growth * y[0] + way * 0.0008) + 0.5 * rho * area * air * abs(air)
            force += mass * 1.5 * (i == tapped and 22 <= t <= 23.2)
            return [-force / (mass + turning)]

        v = drive(coasting, ends(3.0, -1), v)
        v = drive(lambda t, y: [-1.8], ends(0.05, -1), v)
        # Turning round.
        for _ in range(60):
            times.append(times[-1] + 0.1)
            speeds.append(0.0)
        way, v = -way, 0.0
    step = int(10 * every)
    times, speeds = np.array(times[::step]), np.array(speeds[::step])
    moving = speeds > 0.3
    speeds = np.maximum(speeds + moving * rng.normal(0, 0.2, len(speeds)), 0)
    print("time_s,speed_kmh")
    for t, v in zip(np.arange(len(speeds)) * every, 3.6 * speeds):
        print(f"{t:.0f},{v:.1f}")


if sys.argv[1] == "demo":
    rng = np.random.default_rng(7)
    starts = (85 + rng.uniform(-2, 2, 6)) / 3.6
    outing(7, 965.0, 29.6, 1.1192, 0.0125, 1.5e-5 * 3.6, 0.80, starts, 1, 2)
else:
    outing(3, 905.0, 24.0, 1.189, 0.0125, 1.5e-5 * 3.6, 0.70, np.array([55, 54, 56, 55]) / 3.6, 2, -1)
