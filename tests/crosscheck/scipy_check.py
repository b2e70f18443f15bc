"""Two systems computed a second time with NumPy and SciPy, written from the published formulas.

usage: scipy_check.py PROGRAM   (ends with 77, "skipped", when SciPy is not there)

small_bench.json: agrees to 5 digits. The two models have these formulas in common by necessity, being their definition:
  - C_i = C_air sqrt(M_air/M_i) for a conductance given for air in molecular flow;
  - vbar A/4 for an aperture; 1/T = 1/W + 1/s - 1 for a valve whose open area is a fraction s (Oatley 1957);
  - the vane: S (p_i - x_i p_u) (constant speed with constant back-leak);
  - the rotor: N_i = C0/RT [B(-x) p_in - B(x) p_out], x = turn ln K0, C0 = S0/ln K0 (drift and diffusion against ln K0;
    at full speed the textbook S0 (K0 - p_out/p_in)/(K0 - 1)); at rest the program lets it pass a little more
    as the gas becomes viscous, which stays below 1e-6 at these pressures;
  - 1/t walls, held for the first minute; steel by Elsey's points at 1 h and 10 h joined on log paper (1.1 before 1 h).
long_hose.json: the logarithms of the pressures, which count time, agree to 1e-3. There the program uses its own fits of
the kinetic curves; this script takes W and G_P from the tables in tests/published (recomputed from the kinetic
equations), joined in the same way:
  T = 1/[1 + (1/W - 1)/J] + (sqrt(pi)/4) delta/(L/R + 3 pi/8), J = (G_P - delta/4) 3 sqrt(pi)/8.
"""
import json
import os
import subprocess
import sys

try:
    import numpy as np
    from scipy.integrate import solve_ivp
    from scipy.interpolate import CubicSpline, PchipInterpolator
except ImportError:
    print("skipped: no SciPy here")
    sys.exit(77)

R, T = 8.31446261815324, 293.15
HERE = os.path.dirname(os.path.abspath(__file__))


def program(path, at):
    """Partial pressures {chamber: array [time, gas]} and the gases."""
    out = subprocess.run([sys.argv[1], "run", os.path.join(HERE, path), "--json", "--at",
                          ",".join("%.17g s" % t for t in at)], capture_output=True, check=True)
    series = json.loads(out.stdout)["series"]
    assert np.allclose(series["time_s"], at, rtol=1e-12)
    gases = list(next(iter(series["partial_Pa"].values())))
    return {c: np.array([p[g] for g in gases]).T for c, p in series["partial_Pa"].items()}, gases


def read_table(name):
    with open(os.path.join(HERE, "..", "published", name)) as file:
        lines = [line for line in file if not line.startswith("#")]
    return np.array([[float(x) for x in line.split(",")] for line in lines[1:]])


def compare(name, found, wanted, digits):
    worst = np.max(np.abs(found - wanted) / (np.abs(wanted) + 1e-16))
    print("%-28s greatest difference %.1e (allowed %.0e)" % (name, worst, digits))
    return worst <= digits


def bernoulli(z):
    return np.where(np.abs(z) < 1e-8, 1 - z / 2, z / np.where(z == 0, 1, np.expm1(z)))


def small_bench():
    at = np.array([1, 10, 50, 139, 210, 229, 300, 1000, 3000, 6900, 7100, 7299, 9000, 20000, 43000.0])
    found, gases = program("small_bench.json", at)
    mass = {"N2": 28.014e-3, "H2O": 18.015e-3, "H2": 2.016e-3, "He": 4.002602e-3}
    m = np.array([mass[g] for g in gases])
    n2, water, h2, he = (gases.index(g) for g in ("N2", "H2O", "H2", "He"))
    volume = np.array([0.2e-3 + 1e-6, 1.5e-3 + 1e-6, 0.3e-3 + 0.05e-3, 0.2e-3 + 0.05e-3])
    area = np.pi * 0.01 ** 2
    volume[:2] += area * 2e-6 / 2
    vbar = np.sqrt(8 * R * T / (np.pi * m))
    air = np.sqrt(0.0289655 / m)
    s0, k0 = np.zeros(4), np.zeros(4)
    for g, s, k in (("N2", 60, 1e9), ("H2O", 55, 1e7), ("H2", 45, 1e3), ("He", 50, 1e4)):
        s0[gases.index(g)], k0[gases.index(g)] = s * 1e-3, k
    w = 1 - (2e-6 / 0.01) / 2  # short tube

    def turn(t):
        return np.interp(t, [20, 140, 7000, 7300], [0, 1, 1, 0])

    def opening(t):
        return np.interp(t, [200, 230], [0, 1])

    def held(t):
        return max(t, 60.0) / 3600

    def steel(t):
        h = held(t)
        slope = np.log(2.33e-5 / 2.8e-6) / np.log(10)
        if h < 1:
            return 2.33e-5 * h ** -1.1
        return 2.33e-5 * h ** -slope if h < 10 else 2.8e-6 * (h / 10) ** -0.75

    def rates(t, y):
        p = y.reshape(4, 4)  # place, gas
        q = np.zeros((4, 4))  # Pa m3/s into each place
        s = opening(t)
        c = 0.05e-3 * air + (area * vbar / 4 / (1 / w + 1 / s - 1) if s > 0 else 0)
        flow = c * (p[0] - p[1])
        q[0] -= flow
        q[1] += flow
        x = turn(t) * np.log(k0)
        flow = s0 / np.log(k0) * (bernoulli(-x) * p[1] - bernoulli(x) * p[2])
        q[1] -= flow
        q[2] += flow
        flow = 0.8e-3 * air * (p[2] - p[3])
        q[2] -= flow
        q[3] += flow
        back = np.zeros(4)
        back[n2] = 0.015
        q[3] -= 3 / 3600 * (p[3] - back)
        q[0, water] += 0.02 * 2e-11 / held(t)
        q[1, water] += 1e-6 * steel(t)
        q[1, h2] += 0.1 * 1e-11
        return (q / volume[:, None]).ravel()

    start = np.zeros((4, 4))
    start[0, n2], start[0, water], start[0, he] = 1e-6, 3e-6, 1e-7
    start[1, n2] = 2e-6
    start[2, n2], start[2, h2], start[2, he] = 0.02, 1e-4, 5e-5
    start[3, n2] = 0.02
    y, now, rows = start.ravel(), 0.0, {}
    # every instant ends a step of its own: the interpolants of stiff methods are worth less than their steps
    for end in sorted({20, 60, 140, 200, 230, 3600, 7000, 7300, 36000, *at}):
        a = solve_ivp(rates, (now, end), y, "LSODA", rtol=1e-9, atol=1e-17)
        assert a.success
        y, now = a.y[:, -1], end
        rows[end] = y.reshape(4, 4)
    fine = True
    for k, place in enumerate(("bulb", "dome", "fore", "vane inlet")):
        wanted = np.array([rows[t][k] for t in at])
        keep = wanted > 1e-11  # below that a gas is not there
        fine &= compare("small bench, " + place, found[place][keep], wanted[keep], 1e-5)
    return fine


def long_hose():
    at = np.array([10, 30, 100, 300, 600, 1000, 2000, 4000.0])
    found, _ = program("long_hose.json", at)
    table = read_table("poiseuille_tube_kinetic.csv")
    delta, g_p = table[:, 0], table[:, 2]
    j = (g_p - delta / 4) * 3 * np.sqrt(np.pi) / 8
    curve = PchipInterpolator(np.log(delta), j)

    def rarefied(d):  # below the table: molecular with the slope of its first points
        inside = curve(np.log(np.clip(d, delta[0], delta[-1])))
        return np.where(d < delta[0], 1 + (j[0] - 1) * d / delta[0], inside)

    radius, length, mass = 2e-3, 2.0, 28.014e-3
    # Sutherland; 17.9 uPa s at 300 K (CRC Handbook), 110.8 K
    mu = 17.9e-6 * (T / 300) ** 1.5 * (300 + 110.8) / (T + 110.8)
    v0, vbar = np.sqrt(2 * R * T / mass), np.sqrt(8 * R * T / (np.pi * mass))
    area, ratio = np.pi * radius ** 2, length / radius
    lengths = read_table("clausing_tube.csv")
    w = lengths[lengths[:, 0] == ratio, 1].item()
    d_of = radius / (mu * v0)

    def transmission(p):
        d = d_of * p
        return 1 / (1 + (1 / w - 1) / rarefied(d)) + np.sqrt(np.pi) / 4 * d / (ratio + 3 * np.pi / 8)

    grid = np.concatenate([[0], np.geomspace(1e-6, 250, 4000)])
    steps = (transmission(grid[1:]) + transmission(grid[:-1])) / 2 * np.diff(grid)
    integral = CubicSpline(grid, np.concatenate([[0], np.cumsum(steps)]))
    half = area * length / 2
    v = np.array([1e-3 + half, 0.2e-3 + half])

    def rates(t, p):
        q = area * vbar / 4 * (integral(p[0]) - integral(p[1]))
        return np.array([-q, q - 0.5e-3 * p[1]]) / v

    a = solve_ivp(rates, (0, 4000), [200.0, 200.0], "Radau", at, rtol=1e-8, atol=1e-12)
    fine = True
    for k, place in enumerate(("jar", "mouth")):
        fine &= compare("long hose, " + place, np.log(found[place][:, 0] / 201), np.log(a.y[k] / 201), 1e-3)
    return fine


if __name__ == "__main__":
    fine = [small_bench(), long_hose()]
    sys.exit(0 if all(fine) else 1)
