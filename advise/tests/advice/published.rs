//! Published worked examples, the source beside each.

use advise::energy::{
    KCAL_PER_DAY_PER_WATT, KJ_PER_KCAL, basal_kj_per_day, cold_watts, conductance, falconiform_watts,
    field_kj_per_day, tissue_kj_per_g,
};
use advise::solve::least_squares;
use advise::solve::local_level::{LocalLevel, Step};
use advise::solve::ordinal::{Link, Sample, fit};
use advise::{Settings, foods, species};

#[track_caller]
fn near(got: f64, want: f64, share: f64) {
    assert!((got - want).abs() <= share * want.abs(), "got {got}, want {want} within {share}");
}

#[test]
fn energy_equations_give_their_sources_figures() {
    // Aschoff & Pohl 1970 as worked in an energy budget of Mergus squamatus: 365.00 and 304.12 kJ/d printed.
    near(basal_kj_per_day(1.2625), 365.00, 0.001);
    near(basal_kj_per_day(0.985), 304.12, 0.001);
    // Wasser 1986, Condor 88:57–62, at 700 and 1000 g.
    near(falconiform_watts(700.0), 2.292, 0.001);
    near(falconiform_watts(1000.0), 2.880, 0.001);
    // Wasser's conductance at 200 g; a kestrel measured 0.050 W/°C (Dietz, Daan & Masman 1992).
    near(conductance(200.0), 0.0546, 0.001);
    near(conductance(200.0), 0.050, 0.10);
    // Common buzzard of 1.012 kg: 3.756 W (Prinzinger & Hänssler 1980, Experientia 36:1299).
    near(basal_kj_per_day(1.012) / 86.4, 3.756, 0.05);
    // Prairie falcons: 390.2 and 504.8 mL O2/h at 494 and 753 g (abstract on reversed size dimorphism), 20.1 J/mL.
    near(basal_kj_per_day(0.494), 390.2 * 24.0 * 20.1e-3, 0.03);
    near(basal_kj_per_day(0.753), 504.8 * 24.0 * 20.1e-3, 0.03);
    // Nagy, Girard & Brown 1999 at 700 and 1000 g.
    near(field_kj_per_day(700.0), 909.0, 0.001);
    near(field_kj_per_day(1000.0), 1159.0, 0.001);
    // Great-winged petrel: 22.3 kJ per gram lost, half of it lipid (Groscolas et al. 1991).
    near(0.508 * 39.4 + 0.135 * 17.8, 22.3, 0.006);
    near(tissue_kj_per_g(0.508), 22.3, 0.01);
    near(tissue_kj_per_g(0.0), 4.82, 0.002);
    // 700 g at 5 °C, body 39.5 °C: conductance times difference.
    near(cold_watts(700.0, 39.5, 5.0), 3.749, 0.001);
    near(cold_watts(700.0, 39.5, 5.0) * 86.4, 323.9, 0.001);
    near(KCAL_PER_DAY_PER_WATT, 20.650, 1e-4);
    // Kestrel flight 13.8 W at about 0.2 kg is 12.6 times basal (Masman & Klaassen 1987).
    near(13.8 / (basal_kj_per_day(0.2) / 86.4), 12.6, 0.01);
    let energy = Settings::default().energy;
    let ten_minutes = energy.flight_kcal(900.0, 600.0 * energy.flight_speed);
    near(ten_minutes, 5.7, 0.02);
}

#[test]
fn foods_carry_their_tables_figures_and_basis() {
    let settings = Settings::default();
    let food = |item: &str| settings.food(item).unwrap();
    // Small Animal Clinical Nutrition, 5th ed., Table 71-5: kcal/g as fed = (1 − water) × kcal/g dry.
    for (item, water, dry) in [("day-old chick", 0.73, 4.8), ("mouse", 0.65, 4.8), ("rat", 0.66, 4.7)] {
        near(food(item).kcal_per_g, (1.0 - water) * dry, 0.02);
        assert_eq!(food(item).water, Some(water));
    }
    near(food("day-old chick").mass_g.unwrap() * food("day-old chick").kcal_per_g, 52.0, 1e-9);
    // Great horned owl, 26.5 g dry food per kg and day (Duke, Ciganek & Evanson 1973).
    near(26.5 * 4.304, 114.1, 0.001);
    near(26.5 * 4.151, 110.0, 0.001);
    // What the same owls could use of whole prey: 1.12 and 1.51 kcal/g as fed (4.151 and 4.304 per g dry).
    near(food("day-old chick").usable_kcal_per_g(), 0.27 * 4.151, 0.03);
    near(food("mouse").usable_kcal_per_g(), 0.35 * 4.304, 0.02);
    // USDA SR28 NDB 05157: quail meat and skin, water 69.65 g, 192 kcal = 803 kJ per 100 g.
    near(100.0 - 69.65, 30.35, 1e-9);
    near(192.0 * KJ_PER_KCAL, 803.0, 0.001);
    for (item, per_100_g) in [
        ("quail", 192.0),
        ("pheasant", 181.0),
        ("rabbit", 136.0),
        ("hare", 114.0),
        ("beef", 128.0),
        ("pigeon", 142.0),
    ] {
        near(food(item).kcal_per_g * 100.0, per_100_g, 1e-9);
    }
    // Every food of the entry contract is known.
    for item in note::FOODS {
        assert!(settings.food(item).is_some(), "{item}");
    }
    for part in ["head", "neck", "leg", "wing", "breast", "heart", "liver", "back", "foot", "yolk"] {
        assert!(foods::part_share(part).is_some_and(|s| s > 0.0 && s < 0.5), "{part}");
    }
}

#[test]
fn ounces_are_avoirdupois() {
    // NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g.
    near(24.5 * note::GRAMS_PER_OUNCE, 694.563_317, 1e-9);
}

/// Nile at Aswan 1871–1970 (Cobb 1978).
const NILE: [f64; 100] = [
    1120., 1160., 963., 1210., 1160., 1160., 813., 1230., 1370., 1140., 995., 935., 1110., 994., 1020., 960.,
    1180., 799., 958., 1140., 1100., 1210., 1150., 1250., 1260., 1220., 1030., 1100., 774., 840., 874., 694.,
    940., 833., 701., 916., 692., 1020., 1050., 969., 831., 726., 456., 824., 702., 1120., 1100., 832., 764.,
    821., 768., 845., 864., 862., 698., 845., 744., 796., 1040., 759., 781., 865., 845., 944., 984., 897.,
    822., 1010., 771., 676., 649., 846., 812., 742., 801., 1040., 860., 874., 848., 890., 744., 749., 838.,
    1050., 918., 986., 797., 923., 975., 815., 1020., 906., 901., 1170., 912., 746., 919., 718., 714., 740.,
];

fn steps(readings: impl Iterator<Item = Option<f64>>) -> Vec<Step> {
    readings.map(|reading| Step { gap: 1.0, reading }).collect()
}

#[test]
fn nile_local_level() {
    let series = steps(NILE.iter().map(|y| Some(*y)));
    // Durbin & Koopman 2012, ch. 2: 15099 and 1469.1; KFAS: 15098.53, 1469.178, log-likelihood −632.5456.
    let fitted = LocalLevel::fit(&series, 0.0).unwrap();
    near(fitted.noise, 15098.53, 1e-4);
    near(fitted.wander, 1469.178, 1e-4);
    near(fitted.filter(&series).log_likelihood, -632.5456, 1e-6);
    let model = LocalLevel { noise: 15099.0, wander: 1469.1 };
    let filtered = model.filter(&series).levels;
    for (t, mean, var) in [
        (1, 1120.0, 15099.0),
        (2, 1140.92784, 7899.73638),
        (3, 1072.79853, 5781.46994),
        (100, 798.37029, 4032.15794),
    ] {
        let level = filtered[t - 1].unwrap();
        near(level.mean, mean, 1e-8);
        near(level.var, var, 1e-8);
    }
    let smoothed = model.smooth(&series);
    for (t, mean, var) in
        [(1, 1111.66832, 4032.15794), (2, 1110.85766, 3242.93007), (50, 834.76326, 2326.75687)]
    {
        let level = smoothed[t - 1].unwrap();
        near(level.mean, mean, 1e-8);
        near(level.var, var, 1e-8);
    }
    // Steady state: prediction variance and gain.
    let steady = filtered[99].unwrap().var + 1469.1;
    near(steady, 5501.257942, 1e-9);
    near(steady / (steady + 15099.0), 0.2670480, 1e-6);
}

#[test]
fn nile_with_gaps() {
    // Observations 21–40 and 61–80 left out, as the R documentation of `Nile` does.
    let gone = |t: usize| (20..40).contains(&t) || (60..80).contains(&t);
    let series = steps(NILE.iter().enumerate().map(|(t, y)| (!gone(t)).then_some(*y)));
    let filtered = LocalLevel { noise: 15099.0, wander: 1469.1 }.filter(&series).levels;
    for (t, mean, var) in
        [(20, 1026.14156, 4032.19616), (40, 1026.14156, 33414.19616), (41, 889.94972, 10537.78896)]
    {
        let level = filtered[t - 1].unwrap();
        near(level.mean, mean, 1e-8);
        near(level.var, var, 1e-8);
    }
    near(filtered[59].unwrap().mean, 834.26142, 1e-8);
    near(filtered[99].unwrap().mean, 798.31511, 1e-8);
}

/// Wine bitterness (Randall 1989): warm, contact, and the marks of nine judges.
const BOTTLES: [(f64, f64, &str); 8] = [
    (0.0, 0.0, "212323121"),
    (0.0, 0.0, "232323212"),
    (0.0, 1.0, "313343223"),
    (0.0, 1.0, "432232232"),
    (1.0, 0.0, "425332233"),
    (1.0, 0.0, "435234332"),
    (1.0, 1.0, "554535234"),
    (1.0, 1.0, "544334344"),
];

#[test]
fn wine_proportional_odds() {
    let samples: Vec<Sample> = BOTTLES
        .iter()
        .flat_map(|(warm, contact, marks)| {
            marks.bytes().map(|m| Sample {
                x: vec![*warm, *contact],
                grade: usize::from(m - b'1'),
                weight: 1.0,
            })
        })
        .collect();
    assert_eq!(samples.len(), 72);
    // Christensen, tutorial of the R package `ordinal`: estimates and standard errors as printed.
    let logit = fit(Link::Logit, 5, 2, &samples, &[]).unwrap();
    for (got, want) in logit.thresholds.iter().zip([-1.3444, 1.2508, 3.4669, 5.0064]) {
        near(*got, want, 1e-4);
    }
    near(logit.coefficients[0], 2.5031, 1e-4);
    near(logit.coefficients[1], 1.5278, 1e-4);
    near(logit.log_likelihood, -86.492, 1e-5);
    for (i, want) in [0.5171, 0.4379, 0.5978, 0.7309, 0.5287, 0.4766].into_iter().enumerate() {
        near(logit.cov[(i, i)].sqrt(), want, 3e-4);
    }
    let probit = fit(Link::Probit, 5, 2, &samples, &[]).unwrap();
    near(probit.coefficients[0], 1.49937, 1e-4);
    near(probit.coefficients[1], 0.86774, 1e-4);
    near(probit.log_likelihood, -85.7611, 1e-5);
}

#[test]
fn beetle_mortality() {
    // Bliss 1935, as in Dobson, An Introduction to Generalized Linear Models. Alive is grade 0, dead grade 1:
    // P(alive) = F(θ − xβ), so the usual intercept is −θ.
    let dose = [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839];
    let total = [59.0, 60.0, 62.0, 56.0, 63.0, 59.0, 62.0, 60.0];
    let dead = [6.0, 13.0, 18.0, 28.0, 52.0, 53.0, 61.0, 60.0];
    let samples: Vec<Sample> = (0..8)
        .flat_map(|i| {
            let of = |grade, weight| Sample { x: vec![dose[i]], grade, weight };
            [of(0, total[i] - dead[i]), of(1, dead[i])]
        })
        .collect();
    let logit = fit(Link::Logit, 2, 1, &samples, &[]).unwrap();
    near(-logit.thresholds[0], -60.71745, 1e-6);
    near(logit.coefficients[0], 34.27033, 1e-6);
    near(logit.cov[(0, 0)].sqrt(), 5.18071, 1e-4);
    near(logit.cov[(1, 1)].sqrt(), 2.91214, 1e-4);
    near(logit.thresholds[0] / logit.coefficients[0], 1.771721, 1e-6);
    let saturated: f64 = (0..8)
        .map(|i| {
            let term = |n: f64, p: f64| if n > 0.0 { n * p.ln() } else { 0.0 };
            term(dead[i], dead[i] / total[i]) + term(total[i] - dead[i], 1.0 - dead[i] / total[i])
        })
        .sum();
    near(2.0 * (saturated - logit.log_likelihood), 11.23223, 1e-5);
    let probit = fit(Link::Probit, 2, 1, &samples, &[]).unwrap();
    near(-probit.thresholds[0], -34.93525, 1e-5);
    near(probit.coefficients[0], 19.72793, 1e-5);
}

#[test]
fn hours_and_pass() {
    // The logistic regression of the encyclopaedia's article (hours of study; data from memory).
    let hours = [
        0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.25, 3.5, 4.0, 4.25, 4.5, 4.75,
        5.0, 5.5,
    ];
    let pass = [0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 1, 1, 1];
    let samples: Vec<Sample> =
        hours.iter().zip(pass).map(|(h, grade)| Sample { x: vec![*h], grade, weight: 1.0 }).collect();
    let fitted = fit(Link::Logit, 2, 1, &samples, &[]).unwrap();
    near(-fitted.thresholds[0], -4.077713, 1e-6);
    near(fitted.coefficients[0], 1.504645, 1e-6);
    near(fitted.log_likelihood, -8.029878, 1e-6);
}

#[test]
fn nist_pontius_and_wampler() {
    // NIST Statistical Reference Datasets, Pontius (quadratic, 40 points), certified values.
    let y = [
        0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292, 1.09146, 1.20001,
        1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, 0.11052, 0.22018,
        0.32939, 0.43886, 0.54798, 0.65739, 0.76596, 0.87474, 0.98300, 1.09150, 1.20004, 1.30818, 1.41613,
        1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829,
    ];
    let x: Vec<f64> = (0..40).map(|i| 150_000.0 * f64::from(i % 20 + 1)).collect();
    let columns = [vec![1.0; 40], x.clone(), x.iter().map(|v| v * v).collect()];
    let got = least_squares::fit(&columns, &y).unwrap();
    for (got, want) in
        got.coefficients.iter().zip([0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14])
    {
        near(*got, want, 1e-9);
    }
    for (got, want) in
        got.errors.iter().zip([0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16])
    {
        near(*got, want, 1e-9);
    }
    near(got.residual_sd, 0.205177424076185e-3, 1e-9);
    near(got.r_squared, 0.999999900178537, 1e-13);
    // NIST Wampler1: y = 1 + x + … + x⁵ at 0…20, every coefficient 1.
    let columns: Vec<Vec<f64>> = (0..6).map(|p| (0..21).map(|x| f64::from(x).powi(p)).collect()).collect();
    let y: Vec<f64> = (0..21).map(|x| (0..6).map(|p| f64::from(x).powi(p)).sum()).collect();
    for coefficient in least_squares::fit(&columns, &y).unwrap().coefficients {
        near(coefficient, 1.0, 1e-8);
    }
}

#[test]
fn species_table_only_catches_slips() {
    // Dunning 2008 through the open transcription: Harris's hawk males 690 and 725 g.
    assert_eq!(species::plausible("Harris\u{2019}s hawk", Some("male")), Some((0.55 * 690.0, 1.6 * 725.0)));
    assert!(species::plausible("Northern goshawk", None).is_some());
    assert_eq!(species::plausible("American kestrel", Some("male")), Some((0.55 * 91.0, 1.6 * 113.0)));
    assert_eq!(species::plausible("griffon", None), None);
}
