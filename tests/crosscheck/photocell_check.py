"""examples/photocell-bulb.json against the same bench in NumPy and SciPy (tests/bench/photocell_scipy.py): every regime
from atmosphere to molecular, a mixture, walls, the rotor running up. The laws are those of the same physics, but their
numbers come from the kinetic tables, and mixtures take the plain theta(Pe) form, friction the Blasius law. The instants
agree to 0.1 % and the pressures at the end to 0.2 %, which is what those differences are worth.

usage: photocell_check.py PROGRAM      (ends with 77, "skipped", when there is no SciPy)
"""
import json
import os
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "bench"))
sys.dont_write_bytecode = True
import photocell_scipy  # noqa: E402

out = subprocess.run([sys.argv[1], "run", os.path.join(HERE, "..", "..", "examples", "photocell-bulb.json"), "--json",
                      "--tolerance", "1e-6"], capture_output=True, check=True)
answer = json.loads(out.stdout)
times, pressures, _ = photocell_scipy.solve(8, "BDF", 1e-5)
fine = True


def compare(name, found, wanted, allowed):
    global fine
    off = abs(found / wanted - 1)
    fine = fine and off <= allowed
    print("%-34s %.6g, SciPy %.6g, off by %.1e (allowed %.0e)" % (name, found, wanted, off, allowed))


for target in answer["targets"]:
    compare(target["name"], target["time_s"], times[target["name"]], 1e-3)
for event in answer["events"]:
    if event["what"] == "start turbo":
        compare("start turbo", event["time_s"], times["start turbo"], 1e-3)
for chamber in ("bulb", "port", "turbo inlet", "foreline", "vane inlet"):
    compare(chamber + ", Pa at the end", answer["series"]["pressure_Pa"][chamber][-1], pressures[chamber], 2e-3)
sys.exit(0 if fine else 1)
