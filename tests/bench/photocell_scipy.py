"""The photocell bench (examples/photocell-bulb.json) solved with NumPy and SciPy, as one would write it there: the yardstick
for the speed of the program. Same network, same laws in their plain form (physics of the conductances: Clausing, the
S-model's Poiseuille coefficient, Hagen-Poiseuille, dusty gas with theta(Pe); nozzle of Cd 0.83; Blasius friction), the same
kind of tolerance. Vectorised over edges, gases and Jacobian columns.

usage: photocell_scipy.py HOURS [METHOD] [RTOL]      (ends with 77 when there is no SciPy)
prints the instants of the targets and the pressures at the end, for a look at whether it is the same bench.
"""
import csv
import os
import sys

try:
    import numpy as np
    from scipy.integrate import solve_ivp
except ImportError:
    print("skipped: no SciPy here")
    sys.exit(77)

HERE = os.path.dirname(os.path.abspath(__file__))
R, T, PI = 8.31446261815324, 293.15, np.pi
GASES = ["N2", "O2", "Ar", "H2O", "H2", "He"]
G = len(GASES)


def table(path):
    with open(os.path.join(HERE, "..", path)) as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def column(rows, key):
    return np.array([float(r[key]) for r in rows])


species = {r["name"]: r for r in table("../data/gases.csv")}
rows = [species[g] for g in GASES]
mass = column(rows, "molar_mass_g_per_mol") * 1e-3
s_k = column(rows, "sutherland_K")
mu_i = column(rows, "viscosity_300K_uPa_s") * 1e-6 * (T / 300) ** 1.5 * (300 + s_k) / (T + s_k)
vbar = np.sqrt(8 * R * T / (PI * mass))
fuller = column(rows, "diffusion_volume_cm3_per_mol")
m_ij = 2 / (1e-3 / mass[:, None] + 1e-3 / mass[None, :])  # g/mol, Fuller, Schettler and Giddings 1966
d_p = 0.00143 * T ** 1.75 / (np.sqrt(m_ij) * (np.cbrt(fuller)[:, None] + np.cbrt(fuller)[None, :]) ** 2) * 1e-4 * 1e5
wilke = (1 + np.sqrt(mu_i[:, None] / mu_i[None, :]) * (mass[None, :] / mass[:, None]) ** 0.25) ** 2 / np.sqrt(
    8 * (1 + mass[:, None] / mass[None, :]))
water = 0.5 * 2339.0
x_air = column(rows, "air_fraction")
ambient = x_air * (101300 - water)
ambient[GASES.index("H2O")] = water
ambient[0] += 101300 - ambient.sum()
dry = np.where(np.array(GASES) == "H2O", 0, ambient)
dry = dry / dry.sum()

# ---- places: volume by node (tubing shared), walls -------------------------------------------------------------
NODES = ["bulb", "port", "turbo inlet", "foreline", "vane inlet", "n1", "n2"]
N = len(NODES)
sec = lambda bore: PI * bore * bore / 4
stem_v, hv_v, hose_v, tube_v, valve_v = (sec(0.006) * 0.06, sec(0.04) * 0.06,
                                         sec(0.016) * (1.0 + 0.016 * PI / 2 + 0.05), sec(0.016) * 0.8, sec(0.016) * 0.05)
vent_v = sec(0.002) * 0.01
volume = np.array([180e-6 + stem_v / 2, 0.4e-3 + stem_v / 2 + hv_v / 2 + tube_v / 2, 1.5e-3 + hv_v / 2 + vent_v / 2,
                   0.3e-3 + hose_v - valve_v / 2, 0.2e-3 + valve_v / 2 + valve_v / 2,
                   tube_v / 2 + 0.15e-3, valve_v / 2 + 0.15e-3])
materials = {(r["material"], r["condition"]): r for r in table("../data/materials.csv")}
WALLS = [(0, 220e-4, "borosilicate glass", "fresh"), (1, 900e-4, "stainless steel", "as received"),
         (1, 0.14 * 1e-3, "FKM", "fresh and unbaked"), (2, 800e-4, "aluminium", "fresh"),
         (0, PI * 0.006 * 0.06 / 2, "borosilicate glass", "fresh"), (1, PI * 0.006 * 0.06 / 2, "borosilicate glass", "fresh")]
laws = []
for node, area, material, condition in WALLS:
    r = materials[material, condition]
    q1, q10 = float(r["rate_1h_Pa_m3_per_s_m2"]), float(r["rate_10h_Pa_m3_per_s_m2"])
    laws.append((node, area, q1, float(r["slope_1h"]), q10, float(r["slope_10h"]), np.log10(q1 / q10)))
permeation = np.zeros(G)
for r in table("../data/permeation.csv"):
    if r["material"] == "FKM" and r["gas"] in GASES:
        permeation[GASES.index(r["gas"])] = float(r["k_m2_per_s"]) * 0.14

# ---- stretches of tubing: stem, high-vacuum valve, foreline hose, roughing tube, roughing valve ------------------
FROM, TO = np.array([0, 1, 3, 1, 6]), np.array([1, 2, 4, 5, 4])
bore = np.array([0.006, 0.040, 0.016, 0.016, 0.016])
bend = 0.016 * PI / 2
length = np.array([0.06, 0.06, 1.05 + bend, 0.8, 0.05])
molecular = length + np.array([0, 0, 1.33 * 0.5 * 0.016, 0, 0])
area_n = [0, 0, 1 / sec(0.04), 0, 0, 1 / sec(0.016), 1 / sec(0.016)]
AREA = sec(bore)
radius = bore / 2
ends = np.array([sum(abs(1 - AREA[e] * area_n[k]) / 2 for k in (FROM[e], TO[e])) for e in range(len(bore))])
clausing = np.array([[float(x) for x in (r["L_over_R"], r["W"])] for r in table("published/clausing_tube.csv")])
W = np.exp(np.interp(np.log(molecular / radius), np.log(clausing[:, 0]), np.log(clausing[:, 1])))
kinetic = np.array([[float(r["delta"]), float(r["G_P_S"])] for r in table("published/poiseuille_tube_kinetic.csv")])
j_table = (kinetic[:, 1] - kinetic[:, 0] / 4) * 3 * np.sqrt(PI) / 8
GRID = np.geomspace(1e-7, 1e6, 1500)
J = np.interp(np.log(GRID), np.log(np.concatenate([[1e-6], kinetic[:, 0]])), np.concatenate([[1], j_table]))
T_M = 1 / (ends[:, None] + (1 / W - 1)[:, None] / J)
I_M = np.concatenate([T_M[:, :1] * GRID[0], T_M[:, :1] * GRID[0] +
                      np.cumsum((T_M[:, 1:] + T_M[:, :-1]) / 2 * np.diff(GRID), axis=1)], axis=1)
LOG_GRID, STEP = np.log(GRID), np.log(GRID[1] / GRID[0])
ratio = length / radius + ends * 3 * PI / 8
diffusive = length + ends * radius * PI / 2
LOSS = np.array([2.28, 1.8, 2.6, 1.8, 1.0])


def lookup(values, d):
    """values [edge, grid] at d [k, edge], linear in d between grid points"""
    i = np.clip(((np.log(np.maximum(d, 1e-300)) - LOG_GRID[0]) / STEP).astype(int), 0, len(GRID) - 2)
    e = np.arange(len(bore))[None, :]
    f = np.clip((d - GRID[i]) / (GRID[i + 1] - GRID[i]), 0, 1)
    return values[e, i] * (1 - f) + values[e, i + 1] * f


def bernoulli(z):
    z = np.where(np.abs(z) < 1e-9, 1e-9, np.clip(z, -600, 600))
    return z / np.expm1(z)


def tubing(a, b, opening):
    """mol/s from a to b: a, b [k, edge, gas]; opening [edge]"""
    a, b = np.maximum(a, 0), np.maximum(b, 0)
    m = (a + b) / 2
    p1, p2, mean = a.sum(2), b.sum(2), m.sum(2) + 1e-300
    mu = (m * mu_i / (m @ wilke.T + 1e-300)).sum(2)
    mm = (m * mass).sum(2) / mean
    v0 = np.sqrt(2 * R * T / mm)
    g = radius / (mu * v0)
    d1, d2 = g * p1, g * p2
    near = np.abs(d1 - d2) < 1e-3 * (d1 + d2)
    tau = np.where(near, lookup(T_M, (d1 + d2) / 2),
                   (lookup(I_M[:, :-1], d1) - lookup(I_M[:, :-1], d2)) / np.where(near, 1, d1 - d2))
    s = np.maximum(opening, 1e-12)
    tau = tau / (1 + (1 / s - 1) * tau)
    r_v = ratio + 3 * PI / 8 * (s ** -1.5 - 1)
    dp = p1 - p2
    n_v = AREA * radius / (8 * R * T * r_v * mu) * mean * dp
    kappa = AREA * np.sqrt(8 * R * T / (PI * mm)) / (4 * R * T)
    n_l = np.abs(n_v + kappa * tau * dp) + 1e-300
    re = 2 * mm * np.abs(n_v) / (PI * mu * radius)
    turbulent = np.maximum(1, 0.3164 / 64 * np.maximum(re, 1) ** 0.75)  # Blasius against laminar
    n_l = n_l / np.sqrt(turbulent)
    up = np.maximum(p1, p2)
    r = np.clip(np.minimum(p1, p2) / (up + 1e-300), 0.528, 1)
    psi2 = 7 * (r ** (2 / 1.4) - r ** (2.4 / 1.4)) + 1e-9
    pc = 3.3 * mu * v0 / radius
    n_in2 = AREA ** 2 * (up + pc) ** 2 * psi2 / (LOSS * R * T * mm) * s ** 2
    rho = 2 / (1 + np.sqrt(1 + 4 * n_l ** 2 / n_in2)) / np.sqrt(turbulent)
    n_v, tau = rho * n_v, rho * tau
    k_i = AREA[:, None] * vbar / (4 * R * T) * tau[:, :, None]
    w = (diffusive + radius * PI / 2 * (s ** -0.5 - 1)) * R * T / AREA
    h = -m[..., :, None] * w[:, None, None] / d_p
    diagonal = 1 / k_i + (m[..., None, :] * w[:, None, None] / d_p).sum(3)
    h[..., range(G), range(G)] += diagonal
    n_d = np.linalg.solve(h, (a - b)[..., None])[..., 0]
    pe = n_v[:, :, None] * diagonal / mean[:, :, None]
    pe = np.where(np.abs(pe) < 1e-6, 1e-6, pe)
    theta = 1 + (bernoulli(pe) - 1) / pe
    x1, x2 = a / (p1[..., None] + 1e-300), b / (p2[..., None] + 1e-300)
    return np.where(opening[:, None] > 0, n_v[:, :, None] * (theta * x1 + (1 - theta) * x2) + n_d, 0)


# ---- pumps ------------------------------------------------------------------------------------------------------
aperture = vbar / 4 * sec(0.04)
s_n2 = np.full(G, 60e-3)
s_turbo = 1 / (1 / np.minimum(s_n2, 0.8 * aperture) - 0.5 / aperture)
ln_k0 = np.log(1e9) * np.sqrt(mass / 28.014e-3)
ln_k0[GASES.index("H2")], ln_k0[GASES.index("He")] = np.log(1e3), np.log(1e4)
ln_k0 = np.minimum(ln_k0, np.log(1e18))
trap = 5e-3 * np.sqrt(0.0289655 / mass) / (R * T)
leak = 1e-9 / (R * T) / 101325 / np.sqrt(mass) / (ambient / ambient.sum() / np.sqrt(mass)).sum()


class Bench:
    def __init__(self):
        self.since = {}  # node -> start of its walls' clock
        self.rotor = (0, 0, 0, 0)  # from, to, start, end
        self.hv, self.rough = (0, 0, 0, 0), 1.0

    @staticmethod
    def moving(m, t):
        return m[1] if t >= m[3] else m[0] + (m[1] - m[0]) * (t - m[2]) / (m[3] - m[2])

    def rates(self, t, y):
        flat = y.ndim == 1
        n = (y[:, None] if flat else y).T.reshape(-1, N, G)
        p = n * (R * T / volume)[:, None]
        out = np.zeros_like(p)
        opening = np.array([1, self.moving(self.hv, t), 1, 1, self.rough])
        flow = tubing(p[:, FROM], p[:, TO], opening)
        for e in range(len(bore)):
            out[:, FROM[e]] -= flow[:, e]
            out[:, TO[e]] += flow[:, e]
        q = trap * (p[:, 5] - p[:, 6])
        out[:, 5] -= q
        out[:, 6] += q
        p_in, p_out = np.maximum(p[:, 2], 0).sum(1), np.maximum(p[:, 3], 0).sum(1)
        f = self.moving(self.rotor, t) / (1 + (p_out / 1000) ** 4) / (1 + p_in ** 1.5)
        h = 2 * p_in * p_out / (p_in + p_out + 1e-300)
        e = h * h / (9 * (h + 9))
        more = 1 + e / (1 + e / (2 * ln_k0[0]))
        x = f[:, None] * ln_k0
        q = s_turbo / ln_k0 / (R * T) * more[:, None] * (bernoulli(-x) * p[:, 2] - bernoulli(x) * p[:, 3])
        out[:, 2] -= q
        out[:, 3] += q
        out[:, 4] -= 3 / 3600 / (R * T) * (p[:, 4] - 0.3 * dry)
        out[:, 1] += leak * (ambient - p[:, 1]) + permeation / (R * T) * (ambient - p[:, 1])
        for node, area, q1, a1, q10, a10, chord in laws:
            if node in self.since:
                hours = max(t - self.since[node], 60.0) / 3600
                rate = q1 * hours ** -a1 if hours < 1 else q1 * hours ** -chord if hours < 10 else q10 * (hours / 10) ** -a10
                out[:, node, GASES.index("H2O")] += area * rate / (R * T)
        out = out.reshape(-1, N * G).T
        return out[:, 0] if flat else out


def solve(hours, method="BDF", rtol=1e-4):
    b = Bench()
    y = (ambient[None, :] * (volume / (R * T))[:, None]).ravel()
    atol = np.repeat(rtol * 1e-12 * volume / (R * T), G)
    end, t, found, step = hours * 3600.0, 0.0, {}, 0

    def total(node, y):
        return y[node * G:(node + 1) * G].sum() * R * T / volume[node]

    calls = 0
    while t < end:
        events, names = [], []

        def watch(name, node, level, terminal):
            def event(_t, y):
                return np.log(max(total(node, y), 1e-30) / level)
            event.terminal, event.direction = terminal, -1
            events.append(event)
            names.append(name)
        for node in (0, 1, 2):
            if node not in b.since:
                watch(("wall", node), node, 10130.0, True)
        if step == 0:
            watch("start turbo", 1, 10.0, True)
        for name, node, level in (("hot gauge may be switched on", 1, 0.05), ("bake-out may start", 0, 1e-3)):
            if name not in found:
                watch(name, node, level, False)
        stops = [s for s in (b.rotor[2] + 0.9 * (b.rotor[3] - b.rotor[2]) if step == 1 else end, b.rotor[3], b.hv[3], end,
                             *(b.since[1] + s for s in (60, 3600, 36000) if 1 in b.since)) if s > t + 1e-9]
        goal = min(stops)
        extra = {} if method == "LSODA" else {"vectorized": True}
        a = solve_ivp(b.rates, (t, goal), y, method, rtol=rtol, atol=atol, events=events, **extra)
        calls += a.nfev
        if not a.success:
            raise SystemExit(a.message)
        for name, times in zip(names, a.t_events):
            if len(times):
                found.setdefault(name, times[0])
                if isinstance(name, tuple):
                    b.since[name[1]] = times[0]
        t, y = a.t[-1], a.y[:, -1]
        if step == 0 and "start turbo" in found:
            step, b.rotor = 1, (0, 1, t, t + 120)
        elif step == 1 and t >= b.rotor[2] + 108 - 1e-9:
            step, b.rough, b.hv = 2, 0.0, (0, 1, t, t + 0.5)
    return found, {name: total(k, y) for k, name in enumerate(NODES)}, calls


if __name__ == "__main__":
    answers, pressures, n = solve(float(sys.argv[1]), *sys.argv[2:3], *(float(x) for x in sys.argv[3:4]))
    for name, when in answers.items():
        if isinstance(name, str):
            print("%-32s %.6g s" % (name, when))
    for name, p in pressures.items():
        print("%-32s %.4g Pa" % (name, p))
    print("right-hand sides %d" % n)
