"""SciPy's solvers along the switchings of a benchmark, from the program's own right-hand side and Jacobian in C.

usage: precision_scipy.py LIBRARY CASE SECONDS     (ends with 77 when there is no SciPy)
prints a row a run: METHOD RTOL ERROR SECONDS. Only the solver's calls are timed (processor time, one thread); each method
is tightened until its error is below 8e-7 or its last run took longer than SECONDS.
"""
import ctypes
import os
import signal
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
try:
    import numpy as np
    from scipy.integrate import BDF, LSODA, Radau, solve_ivp
    from scipy.sparse import csr_matrix
except ImportError:
    print("skipped: no SciPy here")
    sys.exit(77)

lib = ctypes.CDLL(sys.argv[1])
pointer = np.ctypeslib.ndpointer(dtype=np.float64, flags="C_CONTIGUOUS")
whole = np.ctypeslib.ndpointer(dtype=np.int32, flags="C_CONTIGUOUS")
handle = ctypes.c_void_p
for name, result, arguments in (
        ("open", handle, [ctypes.c_char_p]), ("states", ctypes.c_int, [handle]), ("entries", ctypes.c_int, [handle]),
        ("segments", ctypes.c_int, [handle]), ("border", ctypes.c_double, [handle, ctypes.c_int]),
        ("start", None, [handle, pointer]), ("floor", None, [handle, pointer]),
        ("instant", ctypes.c_double, [handle, ctypes.c_int]), ("enter", None, [handle, ctypes.c_int]),
        ("rates", None, [handle, ctypes.c_double, pointer, pointer]),
        ("dense", None, [handle, ctypes.c_double, pointer, pointer]), ("pattern", None, [handle, whole, whole]),
        ("sparse", None, [handle, ctypes.c_double, pointer, pointer]), ("keep", None, [handle, ctypes.c_int, pointer]),
        ("error", ctypes.c_double, [handle])):
    function = getattr(lib, "bench_" + name)
    function.restype, function.argtypes = result, arguments

b = lib.bench_open(sys.argv[2].encode())
most = float(sys.argv[3])
if not b:
    sys.exit("the reference of %s failed" % sys.argv[2])
n = lib.bench_states(b)
borders = [lib.bench_border(b, i) for i in range(lib.bench_segments(b) + 1)]
instants = [lib.bench_instant(b, i) for i in range(10)]
start, floor = np.zeros(n), np.zeros(n)
lib.bench_start(b, start)
lib.bench_floor(b, floor)
large = n > 500
row_start, columns = np.zeros(n + 1, np.int32), np.zeros(lib.bench_entries(b), np.int32)
lib.bench_pattern(b, row_start, columns)


def rates(t, y):
    out = np.empty(n)
    lib.bench_rates(b, t, np.ascontiguousarray(y), out)
    return out


def dense(t, y):
    out = np.empty((n, n))
    lib.bench_dense(b, t, np.ascontiguousarray(y), out)
    return out


def sparse(t, y):
    out = np.empty(len(columns))
    lib.bench_sparse(b, t, np.ascontiguousarray(y), out)
    return csr_matrix((out, columns, row_start), shape=(n, n))


def run(method, rtol):
    y, spent, done = start, 0.0, 0
    for i in range(len(borders) - 1):
        base, end = borders[i], borders[i + 1]
        inside = [t for t in instants if base < t <= end]
        wanted = [t - base for t in inside]
        if not wanted or wanted[-1] < end - base:
            wanted.append(end - base)
        lib.bench_enter(b, i)
        began = time.process_time()
        answer = solve_ivp(rates, (0, end - base), y, method=method, t_eval=wanted, rtol=rtol, atol=rtol * floor,
                           jac=sparse if large else dense)
        spent += time.process_time() - began
        if answer.status != 0:
            return None, spent
        for k in range(len(inside)):
            lib.bench_keep(b, done, np.ascontiguousarray(answer.y[:, k]))
            done += 1
        y = np.ascontiguousarray(answer.y[:, -1])
    return lib.bench_error(b), spent


def give_up(number, frame):
    raise TimeoutError


signal.signal(signal.SIGVTALRM, give_up)
for method in (BDF, Radau) if large else (BDF, Radau, LSODA):
    for k in range(6, 24):
        rtol = 10 ** (-k / 2)
        signal.setitimer(signal.ITIMER_VIRTUAL, 2 * most)
        try:
            error, seconds = run(method, rtol)
        except TimeoutError:
            continue
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        if error is not None and np.isfinite(error):
            print(method.__name__, rtol, error, seconds, flush=True)
            if error < 8e-7:
                break
        if seconds > most:
            break
