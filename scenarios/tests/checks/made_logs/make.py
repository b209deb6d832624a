"""Logs of cars whose truth is hidden from the program, integrated by SciPy.

Cars are `car.json` with other drag, rolling resistance, auxiliaries and cells, drawn from the spreads
that are typical, and for the climb with another conductance from winding to housing. Each drive has a
wind, people and noise of its own; amperes have an offset that is one for each car. Needs numpy and
scipy: python3 make.py writes logs.csv, truth.csv and climb.csv, rows 2 s apart (20 s for the climb).
"""

import numpy as np
from scipy.integrate import solve_ivp

RNG = np.random.default_rng(20261127)
G = 9.80665
CARS, DRIVES, SECONDS = 4, 10, 400
AIR_K = 298.15
RHO = 101325.0 * (1 - 0.0065 * 100 / 288.15) ** (G / 287.05287 / 0.0065) / 287.05287 / AIR_K
RADIUS, RATIO, ETA = 0.28, 8.0, 0.96
# Donor, less what was removed, motor, controller, 30 cells of 2.4 kg with their box, driver.
MASS = 800.0 - 150.0 + 40.0 + 8.0 + 30 * 2.4 + 20.0 + 75.0
TURNING = 4 * 0.5 / RADIUS**2 + 0.02 * (RATIO / RADIUS) ** 2
AH, HARNESS = 100.0, 0.004


def profile(town):
    """Speeds at whole seconds: stops, pulls, stretches at an even speed."""
    speed, now = [0.0] * 5, 0.0
    while len(speed) < SECONDS:
        to = RNG.uniform(6, 15) if town else RNG.uniform(13, 25)
        if RNG.random() < (0.35 if town else 0.12):
            to = 0.0
        step = RNG.uniform(0.5, 1.0) * (1 if to > now else -1)
        speed += list(np.arange(now, to, step)) + [to] * int(RNG.uniform(5, 40))
        now = to
    return np.array(speed[:SECONDS])


def drive(car, speed, slope, wind, mass, winding_w_per_k=20.0, charge=0.85):
    """Energy (J), charge, winding and housing (K) at whole seconds, with volts and amperes."""
    end = len(speed) - 1
    moving = mass + TURNING

    def flows(t, y):
        i = min(int(t), end - 1)
        a = speed[i + 1] - speed[i]
        v = speed[i] + a * (t - i)
        sin = slope[i] / np.hypot(1, slope[i])
        air = 0.5 * RHO * car["drag"] * (v + wind) * abs(v + wind)
        force = moving * a + mass * G * ((car["rolling"] + 2e-5 * 3.6 * v) * np.cos(np.arcsin(sin)) + sin) + air
        torque = max(force, 0.0) * RADIUS / RATIO / ETA if v > 0 or a > 0 else 0.0
        radps = v * RATIO / RADIUS
        krpm = radps * 60 / 2 / np.pi / 1000
        amperes = torque * 300.0 / 120.0
        copper = 0.08 * amperes**2 * (y[2] - 273.15 + 234.5) / (80 + 234.5)
        iron = 20.0 + 20.0 * krpm + 8.0 * krpm**2
        drag = 0.1 * radps + 0.2 * krpm**3
        controller = 30.0 + 0.8 * amperes + 0.002 * amperes**2
        power = torque * radps + copper + iron * (v > 0) + drag + controller + car["aux"] / 0.9
        emf = 30 * (3.2 + 0.4 * y[1])
        ohm = 30 * car["mohm"] * 1e-3 + HARNESS
        pack_a = 2 * power / (emf + np.sqrt(max(emf**2 - 4 * ohm * power, 0)))
        return power, pack_a, emf - ohm * pack_a, copper, iron * (v > 0) + drag

    def rates(t, y):
        power, pack_a, _, copper, iron = flows(t, y)
        inner = winding_w_per_k * (y[2] - y[3])
        return [power, -pack_a / 3600 / AH, (copper - inner) / 3000, (iron + inner - 12.0 * (y[3] - AIR_K)) / 15000]

    found = solve_ivp(rates, (0, end), [0, charge, AIR_K, AIR_K], max_step=1.0, rtol=1e-6, t_eval=np.arange(end + 1))
    at = [flows(min(t + 1e-6, end - 1e-6), y) for t, y in zip(found.t, found.y.T)]
    return found.y, np.array([f[2] for f in at]), np.array([f[1] for f in at])


with open("logs.csv", "w") as logs, open("truth.csv", "w") as truth:
    print("car,drive,speed_kmh,elevation_m,pack_v,pack_a", file=logs)
    print("car,drag_area_m2,rolling_resistance,power_w,mohm", file=truth)
    for n in range(CARS):
        car = {
            "drag": 0.6 * (1 + 0.04 * RNG.normal()),
            "rolling": 0.011 * (1 + 0.075 * RNG.normal()),
            "aux": 250.0 * (1 + 0.125 * RNG.normal()),
            "mohm": 0.9 * (1 + 0.1 * RNG.normal()),
        }
        print(f"{n},{car['drag']:.4f},{car['rolling']:.5f},{car['aux']:.1f},{car['mohm']:.4f}", file=truth)
        offset = 0.3 * RNG.normal()
        for d in range(DRIVES):
            speed = profile(d % 2 == 0)
            metres = np.concatenate([[0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
            phase, wave = RNG.uniform(0, 6.28), RNG.uniform(800, 3000)
            height = 100 + 8 * np.sin(phase + 6.28 * metres / wave)
            rise = np.diff(height) / np.maximum(np.diff(metres), 1e-9)
            slope = np.where(np.diff(metres) > 0.1, rise, 0.0)
            wind = RNG.normal(0, 5 / 3.6)
            _, volts, amperes = drive(car, speed, slope, wind, MASS + RNG.uniform(-20, 60))
            volts = volts + 0.1 * RNG.normal(size=len(volts))
            amperes = amperes + offset + 0.5 * RNG.normal(size=len(amperes))
            for i in range(0, SECONDS, 2):
                print(f"{n},{d},{3.6 * speed[i]:.1f},{round(height[i])},{volts[i]:.1f},{amperes[i]:.1f}", file=logs)

# An hour of climbing: 5 % at 40 km/h, with the winding's temperature.
car = {"drag": 0.6, "rolling": 0.011, "aux": 250.0, "mohm": 0.9}
speed = np.concatenate([np.linspace(0, 40 / 3.6, 20), np.full(3581, 40 / 3.6)])
metres = np.concatenate([[0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
slope = np.full(len(speed) - 1, 0.05)
with open("climb.csv", "w") as climb:
    print("time_s,speed_kmh,elevation_m,winding_c,ambient_c,charge_pct", file=climb)
    y, _, _ = drive(car, speed, slope, 0.0, MASS, winding_w_per_k=17.0, charge=0.97)
    for i in list(range(0, 20, 4)) + list(range(20, len(speed), 20)):
        winding = y[2][i] - 273.15 + 0.5 * RNG.normal()
        print(f"{i},{3.6 * speed[i]:.1f},{100 + 0.05 * metres[i]:.1f},{winding:.1f},25,{100 * y[1][i]:.2f}", file=climb)
