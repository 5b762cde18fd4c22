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
    sync::{
        Arc, Mutex,
        atomic::{AtomicU64, Ordering},
    },
};
use store::{Bird, LastWeight, Moment, Span, Store, StoreError, Written};

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
        // A bird that only ever answered alike does not tell where her band ends: she is not set against a guess.
        let (sure, unsure) = match flying {
            Some(f) if f.evidence == note::Answers::Poor => (None, true),
            other => (other, false),
        };
        Ring {
            grams: self.grams(),
            middle: sure.map(|f| f.best_g).or(details.target_g).or(self.grams()),
            band: sure.map(|f| (f.low_g, f.high_g)),
            unsure,
            floor: details.floor_g,
            ahead: forecast,
        }
    }
}

/// How each bird stood when it was last worked out. It is good until something is written of that bird, the
/// weather or a setting of the advice changes, or another day begins.
#[derive(Debug, Default)]
pub struct Cache {
    known: Mutex<HashMap<BirdId, (Mark, Known)>>,
    worked_out: AtomicU64,
}

impl Cache {
    /// How often a bird was worked out, for tests.
    pub fn worked_out(&self) -> u64 {
        self.worked_out.load(Ordering::Relaxed)
    }
}

/// What a bird's standing was worked out from.
#[derive(Clone, Debug, PartialEq)]
struct Mark {
    written: u64,
    weather: (u64, u64),
    settings: Arc<advise::Settings>,
    today: NaiveDate,
}

#[derive(Clone, Debug)]
struct Known {
    last: Option<LastWeight>,
    day: Option<Day>,
    advice: Option<Arc<Advice>>,
}

/// Looks up birds' standing at one moment of the record.
struct Standing<'a> {
    state: &'a State,
    written: Written,
    settings: Arc<advise::Settings>,
    today: NaiveDate,
}

impl<'a> Standing<'a> {
    fn now(state: &'a State) -> Result<Self, StoreError> {
        let settings = Arc::new(advice_settings(state.store())?);
        Ok(Self { state, written: state.store().written()?, settings, today: today() })
    }

    /// Works out how a bird stands, or remembers it.
    fn of(&self, bird: Bird) -> Result<Now, StoreError> {
        let cache = &self.state.shared.advice;
        let lock = || cache.known.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let mark = Mark {
            written: self.written.birds.get(&bird.id).copied().unwrap_or_default(),
            weather: self.written.weather,
            settings: self.settings.clone(),
            today: self.today,
        };
        let known = lock().get(&bird.id).filter(|(at, _)| *at == mark).map(|(_, known)| known.clone());
        let known = match known {
            Some(known) => known,
            None => {
                let store = self.state.store();
                let since = now().checked_sub_days(Days::new(ADVICE_DAYS));
                let days = store.days(&bird.id, Span { from: since, to: None })?;
                let advice = advise::advise(&bird.for_advice(), &days, &self.settings).ok().map(Arc::new);
                let known = Known { last: store.last_weight(&bird.id)?, day: days.last().cloned(), advice };
                cache.worked_out.fetch_add(1, Ordering::Relaxed);
                lock().insert(bird.id.clone(), (mark, known.clone()));
                known
            }
        };
        Ok(Now { bird, last: known.last, day: known.day, advice: known.advice })
    }
}

/// Works out how a bird stands, or remembers it.
pub fn bird_now(state: &State, bird: Bird) -> Result<Now, StoreError> {
    Standing::now(state)?.of(bird)
}

/// Every bird that is here, as she stands now.
pub fn birds_now(state: &State) -> Result<Vec<Now>, StoreError> {
    let standing = Standing::now(state)?;
    state.store().birds()?.into_iter().map(|bird| standing.of(bird)).collect()
}
