//! What several pages need from the record: the keeper's units, the frame, each bird as she stands now.

use crate::{
    State,
    guard::{IntoAnswer, blocking},
    ring::Ring,
    shell::{Frame, Place},
};
use axum::response::Response;
use chrono::{Days, FixedOffset, Local, NaiveDate};
use note::{Advice, BirdId, Day, Units};
use std::{
    collections::HashMap,
    sync::{Arc, Mutex},
};
use store::{Bird, LastWeight, Moment, Span, Store, StoreError};

/// How far back the advice looks, days; what is older has faded from every model.
const ADVICE_DAYS: u64 = 500;

/// Runs a page's work on the record where it may wait for the disk.
pub async fn on<T: Send + 'static>(
    state: &State,
    work: impl FnOnce(&State) -> Result<T, StoreError> + Send + 'static,
) -> Result<T, Response> {
    let state = state.clone();
    blocking(move || work(&state)).await?.map_err(IntoAnswer::answer)
}

/// The unit system of the page, for what belongs to no bird.
pub fn units(store: &Store) -> Result<Units, StoreError> {
    Ok(units_set(store)?.unwrap_or_default())
}

/// The unit system that the keeper set for everything, if any.
pub fn units_set(store: &Store) -> Result<Option<Units>, StoreError> {
    Ok(store.setting("units")?.and_then(|v| serde_json::from_value(v).ok()))
}

/// In which units each bird is shown: the one set for everything, else the one her weights are said in.
#[derive(Clone, Debug, Default)]
pub struct Measures {
    all: Option<Units>,
    birds: HashMap<String, Units>,
}

impl Measures {
    /// The units of a bird by name; of what belongs to no bird, grams.
    pub fn of(&self, bird: Option<&str>) -> Units {
        let said = || bird.and_then(|name| self.birds.get(name).copied());
        self.all.or_else(said).unwrap_or_default()
    }
    /// The units of a bird.
    pub fn of_bird(&self, bird: &Bird) -> Units {
        self.all.unwrap_or(bird.details.units)
    }
}

/// Looks up in which units each bird is shown.
pub fn measures(store: &Store) -> Result<Measures, StoreError> {
    let birds = store.all_birds()?.into_iter().map(|b| (b.details.name, b.details.units)).collect();
    Ok(Measures { all: units_set(store)?, birds })
}

/// The settings of the advice; the built-in ones where none are set or what is set no longer fits.
pub fn advice_settings(store: &Store) -> Result<advise::Settings, StoreError> {
    let set = store.setting("advice")?.and_then(|v| serde_json::from_value::<advise::Settings>(v).ok());
    Ok(set.filter(|s| s.check().is_ok()).unwrap_or_default())
}

/// The frame of a page, with the number that waits.
pub fn frame(store: &Store, place: Place, title: impl Into<String>) -> Result<Frame, StoreError> {
    Ok(Frame { place, title: title.into(), waiting: store.counts()?.waiting as usize })
}

/// This moment at this machine.
pub fn now() -> Moment {
    Local::now().fixed_offset()
}

/// This machine's date.
pub fn today() -> NaiveDate {
    now().date_naive()
}

/// Reads "2026-11-24" as the start of that day here.
pub fn start_of(text: &str) -> Option<Moment> {
    let day = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").ok()?;
    let offset: FixedOffset = *now().offset();
    day.and_hms_opt(0, 0, 0)?.and_local_timezone(offset).single()
}

/// Reads a span of whole days; the last day is inside.
pub fn span(from: Option<&str>, to: Option<&str>) -> Span {
    let to = to.and_then(start_of).and_then(|t| t.checked_add_days(Days::new(1)));
    Span { from: from.and_then(start_of), to }
}

/// A bird as she stands now.
#[derive(Clone, Debug)]
pub struct Now {
    /// Who she is.
    pub bird: Bird,
    /// Her last confirmed weight, as read.
    pub last: Option<LastWeight>,
    /// Her last day.
    pub day: Option<Day>,
    /// What the record says of tomorrow, with her days; `None` without any day.
    pub advice: Option<Arc<Advice>>,
}

impl Now {
    /// Her last weight without what she wears, grams.
    pub fn grams(&self) -> Option<f64> {
        let worn = self.bird.details.furniture_g().unwrap_or(0.0);
        self.last.as_ref().map(|w| (w.grams - worn).max(0.0))
    }

    /// Her ring.
    pub fn ring(&self) -> Ring {
        let flying = self.advice.as_ref().and_then(|a| a.flying_weight);
        let forecast =
            self.advice.as_ref().and_then(|a| a.forecast.as_ref().map(|f| (f.grams, f.low_g, f.high_g)));
        let details = &self.bird.details;
        Ring {
            grams: self.grams(),
            middle: flying.map(|f| f.best_g).or(details.target_g).or(self.grams()),
            band: flying.map(|f| (f.low_g, f.high_g)),
            floor: details.floor_g,
            ahead: forecast,
        }
    }
}

/// Advice worked out before, good until the journal grows.
#[derive(Debug, Default)]
pub struct Cache(Mutex<HashMap<BirdId, (u64, Known)>>);

#[derive(Clone, Debug)]
struct Known {
    last: Option<LastWeight>,
    day: Option<Day>,
    advice: Option<Arc<Advice>>,
}

/// Works out how a bird stands, or remembers it.
pub fn bird_now(state: &State, bird: Bird) -> Result<Now, StoreError> {
    let lines = state.store().counts()?.journal_lines;
    bird_at(state, bird, lines, &advice_settings(state.store())?)
}

fn bird_at(state: &State, bird: Bird, lines: u64, settings: &advise::Settings) -> Result<Now, StoreError> {
    let lock = || state.shared.advice.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let known = lock().get(&bird.id).filter(|(at, _)| *at == lines).map(|(_, known)| known.clone());
    let known = match known {
        Some(known) => known,
        None => {
            let store = state.store();
            let since = now().checked_sub_days(Days::new(ADVICE_DAYS));
            let days = store.days(&bird.id, Span { from: since, to: None })?;
            let advice = advise::advise(&bird.for_advice(), &days, settings).ok().map(Arc::new);
            let known = Known { last: store.last_weight(&bird.id)?, day: days.last().cloned(), advice };
            lock().insert(bird.id.clone(), (lines, known.clone()));
            known
        }
    };
    Ok(Now { bird, last: known.last, day: known.day, advice: known.advice })
}

/// Every bird that is here, as she stands now.
pub fn birds_now(state: &State) -> Result<Vec<Now>, StoreError> {
    let lines = state.store().counts()?.journal_lines;
    let settings = advice_settings(state.store())?;
    state.store().birds()?.into_iter().map(|bird| bird_at(state, bird, lines, &settings)).collect()
}
