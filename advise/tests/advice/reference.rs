//! Each model against statsmodels or scipy: the table that `tools/reference.py` wrote.

use advise::solve::kalman::Belief;
use advise::solve::least_squares;
use advise::solve::local_level::{LocalLevel, Step};
use advise::solve::ordinal::{Link, Prior, Sample, fit};
use advise::{Settings, advise};
use chrono::{DateTime, Duration};
use nalgebra::{SMatrix, SVector};
use note::{Bird, Day, Grade};
use serde_json::Value;

fn table() -> Value {
    serde_json::from_str(include_str!("reference.json")).expect("the table is JSON")
}
fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("numbers").iter().map(|v| v.as_f64().unwrap_or(f64::NAN)).collect()
}
fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().expect("rows").iter().map(numbers).collect()
}
#[track_caller]
fn close(got: &[f64], want: &[f64], within: f64, what: &str) {
    assert_eq!(got.len(), want.len(), "{what}");
    for (i, (g, w)) in got.iter().zip(want).enumerate() {
        assert!((g - w).abs() <= within * w.abs().max(1.0), "{what}, {i}: got {g}, reference {w}");
    }
}

#[test]
fn the_table_says_what_wrote_it() {
    let versions = &table()["versions"];
    assert!(["numpy", "scipy", "statsmodels"].iter().all(|v| versions[v].is_string()), "{versions}");
}

/// statsmodels `KalmanSmoother` (approximate diffuse start: 1e-6 of slack) and `UnobservedComponents` (exact).
#[test]
fn local_level_as_statsmodels() {
    for case in table()["local_level"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let series: Vec<Step> = numbers(&case["y"])
            .into_iter()
            .map(|y| Step { gap: 1.0, reading: (!y.is_nan()).then_some(y) })
            .collect();
        let model =
            LocalLevel { noise: case["noise"].as_f64().unwrap(), wander: case["wander"].as_f64().unwrap() };
        let filtered: Vec<_> = model.filter(&series).levels.into_iter().map(Option::unwrap).collect();
        let smoothed: Vec<_> = model.smooth(&series).into_iter().map(Option::unwrap).collect();
        let means =
            |levels: &[advise::solve::local_level::Level]| levels.iter().map(|l| l.mean).collect::<Vec<_>>();
        let vars =
            |levels: &[advise::solve::local_level::Level]| levels.iter().map(|l| l.var).collect::<Vec<_>>();
        close(&means(&filtered), &numbers(&case["filtered"]), 2e-5, name);
        close(&means(&smoothed), &numbers(&case["smoothed"]), 2e-5, name);
        close(&vars(&smoothed), &numbers(&case["smoothed_var"]), 1e-2, name);
        let fitted = LocalLevel::fit(&series, 0.0).unwrap();
        close(&[fitted.noise, fitted.wander], &numbers(&case["fitted"]), 2e-3, name);
        close(
            &[fitted.filter(&series).log_likelihood],
            &[case["log_likelihood"].as_f64().unwrap()],
            1e-6,
            name,
        );
    }
}

/// The shape of the weight model: a level driven by known inputs times unknown constants.
#[test]
fn driven_level_as_statsmodels() {
    let case = &table()["driven"];
    let (inputs, reads) = (rows(&case["inputs"]), rows(&case["reads"]));
    let (want, want_smoothed) = (rows(&case["filtered"]), rows(&case["smoothed"]));
    let vector = |v: &[f64]| SVector::<f64, 3>::from_column_slice(v);
    let noise = SVector::from([1.0, 0.0001, 0.0004]);
    let mut belief = Belief {
        mean: SVector::from([640.0, 1.0, 1.0]),
        cov: SMatrix::from_diagonal(&SVector::from([25.0, 0.16, 0.20])),
    };
    let mut log_likelihood = 0.0;
    let (mut before, mut after, mut moves) = (Vec::new(), Vec::new(), Vec::new());
    for (t, y) in numbers(&case["y"]).into_iter().enumerate() {
        before.push(belief);
        if !y.is_nan() {
            let design = vector(&reads[t]);
            log_likelihood += belief.foresee(&design, 2.25).log_density(y);
            belief = belief.update(&design, 2.25, y);
        }
        close(belief.mean.as_slice(), &want[t], 1e-9, "filtered");
        after.push(belief);
        let gain = vector(&inputs[t]);
        let driven = belief.drive(&gain, &noise);
        // The quick step is the general one.
        let mut transition = SMatrix::<f64, 3, 3>::identity();
        for k in 0..3 {
            transition[(0, k)] += gain[k];
        }
        let general = belief.predict(&transition, &SMatrix::from_diagonal(&noise));
        close(driven.mean.as_slice(), general.mean.as_slice(), 1e-12, "quick step, mean");
        close(driven.cov.as_slice(), general.cov.as_slice(), 1e-10, "quick step, covariance");
        moves.push(transition);
        belief = driven;
    }
    close(&[log_likelihood], &[case["log_likelihood"].as_f64().unwrap()], 1e-9, "log-likelihood");
    let mut smoothed = after[after.len() - 1];
    for t in (0..after.len() - 1).rev() {
        smoothed = after[t].smooth(&moves[t], &before[t + 1], &smoothed).unwrap();
        close(smoothed.mean.as_slice(), &want_smoothed[t], 1e-7, "smoothed");
    }
}

fn samples(x: &[Vec<f64>], grades: &[f64]) -> Vec<Sample> {
    x.iter().zip(grades).map(|(x, g)| Sample { x: x.clone(), grade: *g as usize, weight: 1.0 }).collect()
}

/// statsmodels `OrderedModel`.
#[test]
fn ordinal_as_statsmodels() {
    for case in table()["ordinal"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let link = if case["link"] == "logit" { Link::Logit } else { Link::Probit };
        let x = rows(&case["x"]);
        let grades = numbers(&case["grade"]);
        let count = grades.iter().fold(0.0_f64, |m, g| m.max(*g)) as usize + 1;
        let fitted = fit(link, count, x[0].len(), &samples(&x, &grades), &[]).unwrap();
        close(&fitted.coefficients, &numbers(&case["coefficients"]), 1e-4, name);
        close(&fitted.thresholds, &numbers(&case["thresholds"]), 1e-4, name);
        close(&[fitted.log_likelihood], &[case["log_likelihood"].as_f64().unwrap()], 1e-7, name);
        let errors: Vec<f64> =
            (0..x[0].len()).map(|k| fitted.cov[(count - 1 + k, count - 1 + k)].sqrt()).collect();
        close(&errors, &numbers(&case["errors"]), 2e-3, name);
    }
}

/// The quadratic's peak and its delta-method error (synthetic bird, a check of arithmetic only).
#[test]
fn synthetic_bird_peak() {
    let case = &table()["ordinal"][2];
    let fitted = fit(Link::Logit, 4, 2, &samples(&rows(&case["x"]), &numbers(&case["grade"])), &[]).unwrap();
    let (b1, b2) = (fitted.coefficients[0], fitted.coefficients[1]);
    assert!((710.0 - 20.0 * b1 / (2.0 * b2) - 693.454).abs() < 1e-2, "{b1} {b2}");
    let slope = [-20.0 / (2.0 * b2), 20.0 * b1 / (2.0 * b2 * b2)];
    let cov = |i: usize, j: usize| fitted.cov[(3 + i, 3 + j)];
    let var = (0..2)
        .flat_map(|i| (0..2).map(move |j| (i, j)))
        .map(|(i, j)| slope[i] * slope[j] * cov(i, j))
        .sum::<f64>();
    assert!((var.sqrt() - 3.076).abs() < 1e-2, "{}", var.sqrt());
    // P(score ≥ 2) ≥ 0.8 up to 717.24 g: the weight to fly at is not the peak.
    let chance = |w: f64| {
        let z = (w - 710.0) / 20.0;
        1.0 - Link::Logit.cdf(fitted.thresholds[1] - b1 * z - b2 * z * z)
    };
    assert!((chance(717.24) - 0.8).abs() < 1e-3);
}

/// scipy `minimize` on the penalised likelihood.
#[test]
fn priors_as_scipy() {
    let case = &table()["penalised"];
    let x: Vec<Vec<f64>> = numbers(&case["x"]).into_iter().map(|x| vec![x]).collect();
    let mut priors = vec![Prior::on(2, -1.386, 3.0), Prior::on(4, 1.1, 0.66)];
    priors.extend((1..4).map(|c| Prior { on: vec![(c, 1.0), (c - 1, -1.0)], mean: 1.3, sd: 0.65 }));
    let fitted = fit(Link::Logit, 5, 1, &samples(&x, &numbers(&case["grade"])), &priors).unwrap();
    let got: Vec<f64> = fitted.thresholds.iter().chain(&fitted.coefficients).copied().collect();
    close(&got, &numbers(&case["parameters"]), 1e-5, "penalised");
}

/// statsmodels `GLM`, observed information.
#[test]
fn binomial_as_statsmodels() {
    for case in table()["binomial"].as_array().unwrap() {
        let link = if case["link"] == "logit" { Link::Logit } else { Link::Probit };
        let (x, total, yes) = (numbers(&case["x"]), numbers(&case["total"]), numbers(&case["yes"]));
        let samples: Vec<Sample> = (0..x.len())
            .flat_map(|i| {
                [(0, total[i] - yes[i]), (1, yes[i])].map(|(grade, weight)| Sample {
                    x: vec![x[i]],
                    grade,
                    weight,
                })
            })
            .collect();
        let fitted = fit(link, 2, 1, &samples, &[]).unwrap();
        close(
            &[-fitted.thresholds[0], fitted.coefficients[0]],
            &numbers(&case["parameters"]),
            1e-6,
            "binomial",
        );
        let errors = [fitted.cov[(0, 0)].sqrt(), fitted.cov[(1, 1)].sqrt()];
        close(&errors, &numbers(&case["errors"]), 1e-5, "binomial errors");
    }
}

/// statsmodels `OLS`.
#[test]
fn least_squares_as_statsmodels() {
    let case = &table()["least_squares"];
    let got = least_squares::fit(&rows(&case["columns"]), &numbers(&case["y"])).unwrap();
    close(&got.coefficients, &numbers(&case["coefficients"]), 1e-10, "coefficients");
    close(&got.errors, &numbers(&case["errors"]), 1e-9, "errors");
    close(&[got.r_squared], &[case["r_squared"].as_f64().unwrap()], 1e-12, "r squared");
}

/// The flying weight's posterior against a long random walk in numpy over the same model: within 0.15 % of weight.
#[test]
fn flying_weight_as_a_random_walk() {
    let case = &table()["flying_weight"];
    let start = DateTime::parse_from_rfc3339("2026-01-01T08:00:00+00:00").unwrap();
    let days: Vec<Day> = numbers(&case["weights"])
        .iter()
        .zip(numbers(&case["grades"]))
        .enumerate()
        .map(|(i, (grams, grade))| Day {
            at: start + Duration::days(i as i64),
            grams: Some(*grams),
            response: Grade::new(grade as u8),
            flights: None,
            food: None,
            temperature_c: None,
            behaviours: None,
            condition: None,
        })
        .collect();
    let bird = Bird { bird: "Tansy".into(), target_g: case["target_g"].as_f64(), ..Bird::default() };
    // What is believed, not the part of it that is stated.
    let mut settings = Settings::default();
    settings.flying.stated = 1.0;
    let got = advise(&bird, &days, &settings).unwrap().flying_weight.unwrap();
    let want = numbers(&case["quantiles"]);
    close(&[got.low_g, got.best_g, got.high_g], &want, 0.0015, "flying weight");
}
