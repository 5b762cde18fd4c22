//! What to feed so that the next weigh-in lands on the target, without breaking a limit.
//!
//! The forecast is turned round: it is a straight line in the amount of one food. Limits bend the target
//! first, then the amount, and each that did is named. The food is the whole of the day, what was already
//! given since the weigh-in included. Absent: any amount for a bird without a floor or fed-up weight, or for
//! one that a meal cannot bring clear of its floor: that is a vet's business.

use crate::Settings;
use crate::flying::{self, Answering};
use crate::record::{Eaten, Meal, Record};
use crate::weight::{Foreseen, Weighing};
use note::{Portion, Ration};

/// Level of the band about what is expected.
pub(crate) const LEVEL: f64 = 0.9;
/// What brings up a bird that is under its floor, as a multiple of what holds it. C.
const UPWARD: f64 = 1.2;
/// Poor sessions in a row after which one step down is allowed.
const POOR_SESSIONS: usize = 6;
/// Share of the equation's maintenance that is fed at least to a bird near its floor. C.
const MOST_OF_USUAL: f64 = 0.8;
/// Food named when the record holds none.
const STAND_IN: &str = "day-old chick";
/// Step of counted food, and the share of weight that half an item may move before it is weighed out instead.
const HALF: f64 = 0.5;
const ROUNDING: f64 = 0.007;

/// Why no amount is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Withheld {
    /// Neither floor nor fed-up weight is known.
    NoLimit,
    /// Weighed too long ago.
    NotWeighed,
    /// No sensible meal brings it clear of the floor; the least that brings it up, kcal a day.
    UnderFloor { kcal: f64 },
}

/// What the ration must know beside the record.
pub(crate) struct Circumstances {
    /// Days to the next weigh-in.
    pub days: f64,
    /// Signs that stop the flying are present.
    pub ill: bool,
    pub casting_missing: bool,
    pub crop_not_empty: bool,
}

struct Food {
    item: String,
    kcal_per_g: f64,
    mass_g: Option<f64>,
    casting: bool,
}

impl Food {
    fn eaten(&self, grams: f64) -> Eaten {
        Eaten { item: self.item.clone(), kcal: grams * self.kcal_per_g, grams, casting: self.casting }
    }
}

/// The foods at hand, the most used first.
fn at_hand(record: &Record<'_>, settings: &Settings, casting_allowed: bool) -> Vec<Food> {
    let since = record.last().time - settings.limits.foods_days;
    let mut counts: Vec<(usize, &Eaten)> = Vec::new();
    for row in record.rows.iter().filter(|r| r.time >= since) {
        let Meal::Known(eaten) = &row.meal else { continue };
        for e in eaten.iter().filter(|e| e.kcal > 0.0 && e.item != "tidbit") {
            match counts.iter_mut().find(|(_, seen)| seen.item == e.item) {
                Some((count, _)) => *count += 1,
                None => counts.push((1, e)),
            }
        }
    }
    counts.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.item.cmp(&b.1.item)));
    let known = |item: &str| {
        let fact = settings.food(item).or_else(|| settings.food("meat"))?;
        let mass_g = settings.food(item).and_then(|f| f.mass_g);
        Some(Food { item: item.into(), kcal_per_g: fact.usable_kcal_per_g(), mass_g, casting: fact.casting })
    };
    let all: Vec<Food> =
        counts.iter().filter_map(|(_, e)| known(&e.item)).filter(|f| f.kcal_per_g > 0.0).collect();
    let without: usize = all.iter().filter(|f| !f.casting).count();
    let mut foods: Vec<Food> =
        all.into_iter().filter(|f| casting_allowed || without == 0 || !f.casting).collect();
    if foods.is_empty() {
        foods.extend(known(STAND_IN));
    }
    foods
}

/// Largest planned loss a day as a share, by size: small birds less.
pub(crate) fn loss_share(grams: f64, settings: &Settings) -> f64 {
    let limits = &settings.limits;
    let between = ((grams - 250.0) / 350.0).clamp(0.0, 1.0);
    limits.loss_small + between * (limits.loss_large - limits.loss_small)
}

fn held(by: &mut Vec<String>, name: &str) {
    if !by.iter().any(|b| b == name) {
        by.push(name.into());
    }
}

/// The lowest weight that may be aimed for, apart from the forecast's own doubt.
pub(crate) fn lowest_aim(record: &Record<'_>, settings: &Settings) -> Option<f64> {
    let fed_up = record.bird.fed_up_g.map(|f| f * settings.limits.share_of_fed_up);
    match (record.bird.floor_g, fed_up) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

/// The next weight down when there is no other way: after six poor sessions with at most one good answer, one per
/// cent under where they were flown. The limits of the ration still hold it up.
fn step_down(record: &Record<'_>) -> Option<f64> {
    let sessions = flying::sessions(record);
    let last = sessions.last_chunk::<POOR_SESSIONS>()?;
    let count = POOR_SESSIONS as f64;
    let grade = last.iter().map(|s| f64::from(s.grade)).sum::<f64>() / count;
    let good = last.iter().filter(|s| s.grade >= flying::GOOD).count();
    let recent = record.last().time - last[0].time < 14.0;
    let flown = last.iter().map(|s| s.grams).sum::<f64>() / count;
    (recent && good <= 1 && grade <= 2.4).then_some(0.99 * flown)
}

/// Works out the ration.
pub(crate) fn plan(
    record: &Record<'_>,
    weighing: &Weighing<'_>,
    answering: Option<&Answering>,
    settings: &Settings,
    around: &Circumstances,
) -> Result<Ration, Withheld> {
    let limits = &settings.limits;
    let lowest = lowest_aim(record, settings).ok_or(Withheld::NoLimit)?;
    if record.last().time - record.rows[weighing.weighed].time > settings.alarms.days_unweighed {
        return Err(Withheld::NotWeighed);
    }
    let mut by = Vec::new();
    let foods = at_hand(record, settings, !around.casting_missing);
    let main = foods.first().ok_or(Withheld::NoLimit)?;
    let celsius = record.last().temperature;
    let now = weighing.now;
    let need = weighing.need_kcal(celsius) * around.days;

    let chance = weighing.honest(LEVEL);
    let foresee = |eaten: Vec<Eaten>| -> (Foreseen, f64) {
        let seen = weighing.ahead(around.days, &Meal::Known(eaten));
        let half = seen.half_width(chance);
        (seen, half)
    };
    let (holding, half) = foresee(vec![main.eaten(need / main.kcal_per_g)]);
    let spread = half / 1.645;
    // How far the floor is kept away: by the forecast's doubt, or by how deep this bird has fallen under its forecasts.
    let deviations = limits.floor_margin.max(weighing.deepest_fall());
    let clear = record.bird.floor_g.map(|f| f + deviations * spread);

    // What is aimed for in the end.
    let mut goal = match answering {
        Some(a) => a.aim(settings.flying.aim, spread).max(a.lowest_good()),
        None => record.bird.target_g.unwrap_or_else(|| match record.bird.fed_up_g {
            Some(fed_up) => {
                held(&mut by, "no target set: the usual share of fed-up weight");
                fed_up * settings.flying.share_of_fed_up
            }
            None => {
                held(&mut by, "no target set: held where it is");
                now
            }
        }),
    };
    if !around.ill
        && let Some(step) = step_down(record)
        && step < goal
    {
        goal = step.max(answering.map_or(0.0, |a| a.aim(settings.flying.aim, spread)));
        held(&mut by, "poor answers: at most one per cent lower");
    }
    if goal < lowest {
        goal = lowest;
        held(
            &mut by,
            if record.bird.floor_g.is_some_and(|f| f >= lowest) { "floor" } else { "share of fed-up weight" },
        );
    }
    if let Some(clear) = clear.filter(|c| goal < *c) {
        goal = clear;
        held(&mut by, "floor");
    }
    if let Some(fed_up) = record.bird.fed_up_g.filter(|f| *f < goal && *f > lowest) {
        goal = fed_up;
        held(&mut by, "fed-up weight");
    }

    // What of it can be asked tonight.
    let small_and_cold = now < limits.small_g && celsius.is_some_and(|c| c <= limits.cold_c);
    let mut least = now * (1.0 - loss_share(now, settings) * around.days);
    let mut named = "largest loss a day";
    if around.ill {
        (least, named) = (now, "signs of illness: no loss");
    } else if small_and_cold {
        (least, named) = (least.max(now * (1.0 - limits.loss_cold * around.days)), "cold night");
    }
    let mut tonight = goal;
    if tonight < least {
        tonight = least;
        held(&mut by, named);
    }
    // Under what is clear of the floor, there is no slow way up.
    let most = (now * (1.0 + limits.gain * around.days)).max(clear.unwrap_or(0.0));
    if tonight > most {
        tonight = most;
        held(&mut by, "largest gain a day");
    }

    // The amount: the forecast is a straight line in it.
    let hold_grams = need / main.kcal_per_g;
    let (nothing, _) = foresee(vec![main.eaten(0.0)]);
    let per_gram = ((holding.mean - nothing.mean) / hold_grams).max(1e-6);
    let wanted = (tonight - nothing.mean) / per_gram;
    let largest = limits.most_food * hold_grams;
    let mut fewest = limits.least_food * hold_grams;
    // Near the floor never less than holds the bird, nor than most of what holds such birds, whatever it seems to spend.
    let near_floor = clear.is_some_and(|c| now < c);
    if near_floor {
        let usual = MOST_OF_USUAL * settings.energy.maintenance(now) * around.days / main.kcal_per_g;
        fewest = hold_grams.max(usual).min(largest);
    }
    if wanted < fewest {
        held(&mut by, if near_floor { "floor" } else { "least food" });
    }
    if wanted > largest {
        held(&mut by, "most food");
    }
    if around.casting_missing {
        held(&mut by, "casting not yet up: wait for it before feeding");
    }
    if around.crop_not_empty {
        held(&mut by, "crop not empty: wait before feeding");
    }
    let grams = wanted.clamp(fewest, largest);

    // Rounded to what can be cut or weighed; small birds and big items by the gram.
    let counted = main.mass_g.filter(|mass| HALF * mass * per_gram <= ROUNDING * now);
    let step = match counted {
        Some(mass) => HALF * mass,
        None if now < limits.small_g => 0.5,
        None => 1.0,
    };
    let mut steps = (grams / step).round().max((fewest / step).ceil());
    let filler = foods.iter().skip(1).find(|f| f.mass_g.is_none());
    let mut fill = 0.0;
    if let (Some(_), Some(filler)) = (counted, filler) {
        // Halves of the first food, and the rest by weight of the second.
        steps = (grams / step).floor().max(0.0);
        fill = ((grams - steps * step) * main.kcal_per_g / filler.kcal_per_g).round();
        if fill < 3.0 {
            fill = 0.0;
        }
    }
    let eaten = |steps: f64| {
        let mut eaten = vec![main.eaten(steps * step)];
        eaten.extend(filler.filter(|_| fill > 0.0).map(|f| f.eaten(fill)));
        eaten
    };
    let ceiling = (largest / step).ceil() + 1.0;
    let (mut seen, mut half) = foresee(eaten(steps));
    if let Some(floor) = record.bird.floor_g {
        // Never a band that reaches under the floor: feed more until it does not, or say nothing.
        let under = |seen: &Foreseen, half: f64| seen.mean - half.max(deviations * half / 1.645) < floor;
        while under(&seen, half) && steps < ceiling {
            steps += 1.0;
            held(&mut by, "floor");
            (seen, half) = foresee(eaten(steps));
        }
        if seen.mean - half < floor {
            let usual = settings.energy.maintenance(now).max(need / around.days);
            return Err(Withheld::UnderFloor { kcal: UPWARD * usual });
        }
    }
    // Where the amount was bent, what is aimed for is what it brings.
    if wanted < fewest || wanted > largest || seen.mean > tonight + 0.5 * step * per_gram {
        tonight = seen.mean;
    }
    let mut items = Vec::new();
    if steps > 0.0 {
        items.push(match counted {
            Some(_) => Portion { item: main.item.clone(), count: Some(steps * HALF), grams: None },
            None => Portion { item: main.item.clone(), count: None, grams: Some(steps * step) },
        });
    }
    items.extend(filler.filter(|_| fill > 0.0).map(|f| Portion {
        item: f.item.clone(),
        count: None,
        grams: Some(fill),
    }));
    Ok(Ration {
        target_g: tonight,
        kcal: eaten(steps).iter().map(|e| e.kcal).sum(),
        items,
        expected_g: seen.mean,
        low_g: seen.mean - half,
        high_g: seen.mean + half,
        level: LEVEL,
        held_by: by,
    })
}
