#!/usr/bin/env python3
"""Writes ../tests/advice/reference.json: the same models by statsmodels and scipy, to check ours against.

    python3 -m venv venv && venv/bin/pip install numpy scipy statsmodels && venv/bin/python reference.py

The committed table says which versions wrote it. Data are published examples (Nile: Cobb 1978; wine: Randall
1989; beetles: Bliss 1935) and series made up here from a fixed seed.
"""

import json
import math
import pathlib

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.miscmodels.ordinal_model import OrderedModel
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

rng = np.random.default_rng(20260314)
WALK = 600_000
out = {
    "versions": {"numpy": np.__version__, "scipy": scipy.__version__, "statsmodels": statsmodels.__version__}
}


def local_level(y, noise, wander):
    """Filtered and smoothed level with the first reading as the start."""
    k = KalmanSmoother(k_endog=1, k_states=1, k_posdef=1)
    k.bind(np.asarray(y, float)[:, None])
    k["design", 0, 0] = k["transition", 0, 0] = k["selection", 0, 0] = 1.0
    k["obs_cov", 0, 0], k["state_cov", 0, 0] = noise, wander
    k.initialize_diffuse()
    r = k.smooth()
    return r


nile = sm.datasets.nile.load_pandas().data["volume"].to_numpy(float)
gaps = nile.copy()
gaps[20:40] = gaps[60:80] = np.nan
wander = np.cumsum(rng.normal(0, 3.0, 80)) + 640.0 + rng.normal(0, 4.0, 80)
wander[[5, 6, 7, 30, 55, 56]] = np.nan
out["local_level"] = []
for name, y, noise, w in [
    ("nile", nile, 15099.0, 1469.1),
    ("nile with gaps", gaps, 15099.0, 1469.1),
    ("made-up bird", wander, 16.0, 9.0),
]:
    r = local_level(y, noise, w)
    fit = sm.tsa.UnobservedComponents(y, "llevel", use_exact_diffuse=True).fit(disp=False, method="powell", xtol=1e-10, ftol=1e-12)
    fit = sm.tsa.UnobservedComponents(y, "llevel", use_exact_diffuse=True).fit(fit.params, disp=False, method="bfgs", gtol=1e-9, maxiter=500)
    out["local_level"].append({
        "name": name,
        "y": [None if np.isnan(v) else float(v) for v in y],
        "noise": noise,
        "wander": w,
        "filtered": r.filtered_state[0].tolist(),
        "filtered_var": r.filtered_state_cov[0, 0].tolist(),
        "smoothed": r.smoothed_state[0].tolist(),
        "smoothed_var": r.smoothed_state_cov[0, 0].tolist(),
        "fitted": [float(v) for v in fit.params],
        # statsmodels counts a constant for the diffuse start.
        "log_likelihood": float(fit.llf + 0.5 * np.log(2 * np.pi)),
    })


# A level driven by known inputs times unknown constants: what the weight model is.
n = 50
inputs = np.column_stack([np.zeros(n), rng.uniform(5, 20, n), -rng.uniform(8, 12, n)])
reads = np.column_stack([np.ones(n), np.zeros(n), rng.uniform(0, 3, n)])
state, y = np.array([640.0, 1.2, 0.9]), []
for t in range(n):
    y.append(reads[t] @ state + rng.normal(0, 1.5))
    state = state + np.array([inputs[t] @ state + rng.normal(0, 1.0), 0, 0])
y[7] = y[21] = np.nan
k = KalmanSmoother(k_endog=1, k_states=3, k_posdef=3)
k.bind(np.asarray(y)[:, None])
transition = np.repeat(np.eye(3)[:, :, None], n, axis=2)
transition[0, :, :] += inputs.T
k["transition"] = transition
k["design"] = reads.T[None, :, :]
k["selection"] = np.eye(3)
k["state_cov"] = np.diag([1.0, 0.0001, 0.0004])
k["obs_cov", 0, 0] = 2.25
k.initialize_known(np.array([640.0, 1.0, 1.0]), np.diag([25.0, 0.16, 0.20]))
r = k.smooth()
out["driven"] = {
    "y": [None if np.isnan(v) else float(v) for v in y],
    "inputs": inputs.tolist(),
    "reads": reads.tolist(),
    "filtered": r.filtered_state.T.tolist(),
    "smoothed": r.smoothed_state.T.tolist(),
    "log_likelihood": float(r.llf),
}


def ordered(name, x, grade, link):
    model = OrderedModel(np.asarray(grade), np.asarray(x, float), distr=link)
    start = model.fit(method="bfgs", disp=False, maxiter=500, gtol=1e-8)
    fit = model.fit(start_params=start.params, method="newton", disp=False, maxiter=100, tol=1e-12)
    slopes = np.shape(x)[1]
    cuts = model.transform_threshold_params(fit.params)[1:-1]
    # Standard errors of the slopes need no transformation of the thresholds.
    return {
        "name": name, "link": link, "x": np.asarray(x, float).tolist(), "grade": [int(g) for g in grade],
        "coefficients": fit.params[:slopes].tolist(), "errors": fit.bse[:slopes].tolist(),
        "thresholds": cuts.tolist(), "log_likelihood": float(fit.llf),
    }


bottles = [
    (0, 0, "212323121"), (0, 0, "232323212"), (0, 1, "313343223"), (0, 1, "432232232"),
    (1, 0, "425332233"), (1, 0, "435234332"), (1, 1, "554535234"), (1, 1, "544334344"),
]
wine_x = [(warm, contact) for warm, contact, marks in bottles for _ in marks]
wine_y = [int(m) - 1 for *_, marks in bottles for m in marks]
bird_w = np.arange(760, 660, -5)
bird_y = [0, 0, 0, 1, 0, 1, 1, 2, 1, 2, 2, 3, 2, 3, 3, 3, 2, 3, 2, 1]
z = (bird_w - 710) / 20
made_x = rng.normal(0, 1, (120, 3))
latent = made_x @ [1.2, -0.5, 0.3] + rng.logistic(0, 1, 120)
made_y = np.digitize(latent, [-2, -0.7, 0.6, 1.9])
out["ordinal"] = [
    ordered("wine", wine_x, wine_y, "logit"),
    ordered("wine", wine_x, wine_y, "probit"),
    ordered("synthetic bird", np.column_stack([z, z * z]), bird_y, "logit"),
    ordered("made up", made_x, made_y, "logit"),
]

# With priors: the penalised fit by a general optimiser.
w = np.array([662, 655, 650, 648, 645, 641, 640, 637, 634, 633, 630, 628], float)
g = np.array([1, 1, 2, 1, 2, 3, 2, 3, 3, 4, 4, 4])
zx = (640 - w) / 6.4


def penalised(p):
    cuts, b = p[:4], p[4]
    if np.any(np.diff(cuts) <= 0):
        return 1e10
    edges = np.concatenate([[-np.inf], cuts, [np.inf]])
    F = lambda v: 1 / (1 + np.exp(-v))
    like = np.log(F(edges[g + 1] - b * zx) - F(edges[g] - b * zx)).sum()
    prior = ((cuts[2] + 1.386) / 3) ** 2 + ((b - 1.1) / 0.66) ** 2 + (((np.diff(cuts) - 1.3) / 0.65) ** 2).sum()
    return -(like - 0.5 * prior)


best = optimize.minimize(penalised, [-4, -2.7, -1.4, 0, 1.1], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 40000, "maxfev": 40000})
out["penalised"] = {"x": zx.tolist(), "grade": g.tolist(), "parameters": best.x.tolist()}

dose = [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839]
total, dead = [59, 60, 62, 56, 63, 59, 62, 60], [6, 13, 18, 28, 52, 53, 61, 60]
out["binomial"] = []
for name, link in [("logit", sm.families.links.Logit()), ("probit", sm.families.links.Probit())]:
    glm = sm.GLM(np.column_stack([dead, np.subtract(total, dead)]), sm.add_constant(dose), family=sm.families.Binomial(link))
    # The observed information, as ours; the expected one is the same for logit only.
    fit = glm.fit(tol=1e-13)
    cov = np.linalg.inv(-glm.hessian(fit.params, observed=True))
    out["binomial"].append({"link": name, "x": dose, "total": total, "yes": dead, "parameters": fit.params.tolist(), "errors": np.sqrt(np.diag(cov)).tolist()})

X = np.column_stack([np.ones(30), np.linspace(-8, 0, 30), rng.normal(0, 1, 30)])
Y = X @ [640, -1.7, 2.0] + rng.normal(0, 2.0, 30)
fit = sm.OLS(Y, X).fit()
out["least_squares"] = {"columns": X.T.tolist(), "y": Y.tolist(), "coefficients": fit.params.tolist(), "errors": fit.bse.tolist(), "r_squared": float(fit.rsquared)}

# The flying weight's posterior by a long random walk over the model as the documentation states it.
weights = np.array([1082, 1078, 1075, 1071, 1074, 1068, 1062, 1065, 1058, 1055, 1060, 1052, 1049, 1056, 1051, 1054], float)
grades = np.array([2, 1, 3, 2, 3, 3, 4, 3, 4, 5, 4, 5, 5, 4, 5, 3])
days = np.arange(16.0)
target_g = 1060.0
mean = weights.mean()
pw, pt = 1 / (0.06 * mean) ** 2, 1 / (0.04 * mean) ** 2
middle = (pw * mean + pt * target_g) / (pw + pt)
sd = max((pw + pt) ** -0.5, 0.03 * mean) / (middle / 100)
goal = np.log(4)
slope, slope_sd, drift_mean, drift, lapses, short, mood = 2.0, 0.7, 0.2, 0.25, 0.05, 0.03, 0.5
spoilt = [0.40, 0.30, 0.20, 0.07, 0.03]
xw = (-(weights - middle) / (middle / 100)).tolist()
marks = grades.tolist()
age = ((days - days[-1]) / 7).tolist()
share = (0.5 ** ((days[-1] - days) / 60)).tolist()
# Three moods stand for a normal one (Gauss and Hermite); a mood stays, or is drawn anew.
places, shares = [-(3**0.5), 0.0, 3**0.5], [1 / 6, 2 / 3, 1 / 6]
half_normal = stats.halfnorm.ppf(np.linspace(0, 1, 4002)[1:-1])
paces, memories = [3.0, 7.0, 14.0], [0.4, 0.6, 0.8]


def sessions_of(u_short, u_mood):
    """Steps between moods, log-odds wanted in a middling one, odds that hunger leaves."""
    step = mood * half_normal[int(u_mood * 4000) if u_mood < 1 else 3999]
    low, high = 0.0, 20.0
    for _ in range(50):
        t = 0.5 * (low + high)
        chance = sum(w / (1 + math.exp(-t - step * k)) for w, k in zip(shares, places))
        low, high = (t, high) if chance < 0.8 else (low, t)
    poor = min(-short * math.log(1 - u_short), 0.15)
    return step, math.exp(-low), min(poor / (1 - poor), 0.7 * math.exp(-low))


def log_post(p, pace, memory):
    # z of the fully learned bird, log slope, three log spacings, learning, drift in per cent a week; then the places of
    # the lapses, of the poor answers of a hungry bird and of the moods
    zc, ls, learn, dr = p[0], p[1], p[5], p[6]
    s, sp = math.exp(ls), [math.exp(v) for v in p[2:5]]
    step, wanted, least = sessions_of(p[8], p[9])
    # Log-odds against passing each threshold, beside those against the good one.
    odds = [0.0, math.exp(-sp[0] - sp[1]), math.exp(-sp[1]), 1.0, math.exp(sp[2]), math.inf]
    lapse = min(-lapses * math.log(1 - p[7]), 0.3)
    moods = [math.exp(-step * k) for k in places]
    belief, like = list(shares), 0.0
    for i, grade in enumerate(marks):
        ease = -learn * math.exp(-i / pace)
        against = (least + (wanted - least) * math.exp(s * (-xw[i] - zc - dr * age[i]))) * math.exp(-ease)
        kept = memory if i else 0.0
        for k in range(3):
            passed = [1 / (1 + against * moods[k] * odds[g]) for g in (grade - 1, grade)]
            right = passed[0] - passed[1]
            belief[k] = (kept * belief[k] + (1 - kept) * shares[k]) * ((1 - lapse) * right + lapse * spoilt[grade - 1])
        whole = sum(belief)
        belief = [b / whole for b in belief]
        like += share[i] * math.log(whole)
    prior = -3.5 * math.log1p((zc / sd) ** 2 / 6) - 0.5 * ((ls - math.log(slope)) / slope_sd) ** 2
    # Spacings alike within one keeper: half a unit of spread shared, half a unit of their own, in logarithms.
    logs = [v - math.log(1.3) for v in p[2:5]]
    own = shared = 0.25
    prior += -0.5 * (sum(v * v for v in logs) - sum(logs) ** 2 * shared / (own + 3 * shared)) / own
    prior += -0.5 * ((learn - 1.5) / 1.2) ** 2 - 2.5 * math.log1p(((dr - drift_mean) / drift) ** 2 / 4)
    return like + prior


scale = [0.5, 0.4, 0.4, 0.4, 0.4, 0.8, 0.25, 0.3, 0.3, 0.3]
p, j, m, draws = [0.0, 0.5, 0.26, 0.26, 0.26, 1.5, 0.2, 0.5, 0.5, 0.5], 1, 1, []
now = log_post(p, paces[j], memories[m])
for step in range(WALK):
    q = [v + 0.7 * w * n for v, w, n in zip(p, scale, rng.normal(size=10).tolist())]
    # Folded back between 0 and 1.
    q[7:] = [min(abs(v - 2 * round(v / 2)), 1 - 1e-9) for v in q[7:]]
    jq, mq = (rng.integers(3), rng.integers(3)) if step % 3 == 0 else (j, m)
    new = log_post(q, paces[jq], memories[mq])
    if math.log(rng.uniform()) < new - now:
        p, j, m, now = q, jq, mq, new
    if step > WALK // 30 and step % 10 == 0:
        _, wanted, least = sessions_of(p[8], p[9])
        bare = wanted * math.exp(-p[5] * math.exp(-16 / paces[j])) - least
        over = p[0] + math.log(max(bare / (wanted - least), 0.003)) / math.exp(p[1])
        draws.append(middle + over * middle / 100)
out["flying_weight"] = {
    "weights": weights.tolist(), "grades": grades.tolist(), "target_g": target_g,
    "quantiles": np.quantile(draws, [0.1, 0.5, 0.9]).tolist(),
}

path = pathlib.Path(__file__).resolve().parent.parent / "tests" / "advice" / "reference.json"
lines = [f"{json.dumps(k)}: {json.dumps(v)}" for k, v in out.items()]
path.write_text("{\n" + ",\n".join(lines) + "\n}\n")
print(path.name, out["versions"], out["flying_weight"]["quantiles"])
