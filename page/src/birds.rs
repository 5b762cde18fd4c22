//! The birds: who each is, how she stands, what she wears, what happened to her.

use crate::{
    State,
    fields::Typed,
    gather::{self, Now},
    guard::{Hand, go},
    say, shell,
    shell::{Place, icon},
    today,
};
use axum::{
    Extension, Form,
    extract::{Path, State as Extract},
    http::StatusCode,
    response::{IntoResponse, Response},
};
use maud::{Markup, html};
use note::{BirdId, Units};
use store::{BirdDetails, BirdEvent, BirdEventKind, Furniture, Span};

/// Birds shown with their rings; more than this stand one to a line.
const CARDS: usize = 24;
/// Lines for furniture in the form.
const WORN_LINES: usize = 4;

/// Lists the birds.
pub async fn list(Extract(state): Extract<State>) -> Result<Markup, Response> {
    let (frame, here, gone, measures) = gather::on(&state, |state| {
        let store = state.store();
        let here = gather::birds_now(state)?;
        let gone: Vec<_> = store.all_birds()?.into_iter().filter(|b| b.gone.is_some()).collect();
        Ok((gather::frame(store, Place::Birds, "Birds")?, here, gone, gather::measures(store)?))
    })
    .await?;
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { "Birds" } p { (say::count(here.len(), "bird")) " here" } }
            @if here.is_empty() { (shell::empty("No bird yet", html! { p { "Enter a bird, and her weights, food and flying gather here." } })) }
            @if here.len() > CARDS { section.leaf { (today::lines(&here, &measures, "All birds, by name")) } } @else {
                div.birds { @for now in &here {
                    @let units = measures.of_bird(&now.bird);
                    section.leaf.bird aria-label=(now.bird.details.name) {
                        div.who { h2 { a href={ "/birds/" (now.bird.id) } { (now.bird.details.name) } } p.small { (today::describe(now)) } (now.ring().standing(units)) }
                        (now.ring().draw(units))
                        div.rest { div.acts { a.press.grow href={ "/birds/" (now.bird.id) } { "Look" } a.press.grow href={ "/book?bird=" (now.bird.id) } { "Day book" } } }
                    }
                } }
            }
            p { a.press.main href="/birds/new" { (icon("M12 5v14M5 12h14")) "Enter a bird" } }
            @if !gone.is_empty() { section.leaf { h2 { "No longer here" } ul { @for bird in &gone { li { a href={ "/birds/" (bird.id) } { (bird.details.name) } @if let Some(gone) = bird.gone { ", " (gone) } } } } } }
        },
    ))
}

/// Shows one bird.
pub async fn page(Extract(state): Extract<State>, Path(bird): Path<String>) -> Result<Markup, Response> {
    let (frame, now, events, charts, units) = gather::on(&state, move |state| {
        let store = state.store();
        let now = gather::bird_now(state, store.bird(&BirdId::new(bird))?)?;
        let events = store.bird_events(&now.bird.id)?;
        let since = gather::now().checked_sub_days(chrono::Days::new(120));
        let days = store.days(&now.bird.id, Span { from: since, to: None })?;
        let (mut of, settings) = (now.bird.for_advice(), gather::advice_settings(store)?);
        let units = gather::measures(store)?.of_bird(&now.bird);
        of.units = units;
        let charts = if days.is_empty() {
            Vec::new()
        } else {
            use advise::chart::{answers, energy, weight};
            [weight, answers, energy]
                .map(|draw| crate::book::both(|sheet| draw(&of, &days, &[], &settings, sheet)))
                .to_vec()
        };
        let name = now.bird.details.name.clone();
        Ok((gather::frame(store, Place::Birds, name)?, now, events, charts, units))
    })
    .await?;
    Ok(shell::page(&frame, draw(&now, &events, &charts, units)))
}

fn draw(now: &Now, events: &[BirdEvent], charts: &[Markup], units: Units) -> Markup {
    let bird = &now.bird;
    let d = &bird.details;
    html! {
        header { h1 { (d.name) } p { (today::describe(now)) @if let Some(gone) = bird.gone { " · " (gone) } @if let Some(keeper) = &bird.from_keeper { " · earlier history kept by " (keeper) } } }
        div.desk {
            div {
                section.leaf.bird aria-label="Weight" {
                    div.who {
                        (now.ring().standing(units))
                        @if let Some(last) = &now.last { p.small { "Weighed " (say::moment(last.at, gather::today())) } }
                    }
                    (now.ring().draw(units))
                    div.rest {
                        @if let Some(advice) = &now.advice { (standing(advice, units)) } @else { p { "Nothing confirmed yet. Say a weight, then confirm it." } }
                    }
                }
                @if let Some(advice) = &now.advice {
                    (today::alerts(advice.alerts.iter()))
                    @if let Some(ration) = &advice.ration { section.leaf { (today::tonight(ration, units, "h2")) } }
                    @if let Some(training) = &advice.training { section.leaf {
                        h2 { "Training" }
                        p { @if let Some(step) = &training.step { "Now: " strong { (step) } ". " } @if let Some(next) = &training.next { "Next: " strong { (next) } @if training.ready { ", and she is ready for it." } @else { "." } } }
                        @if !training.missing.is_empty() { p { "Still missing:" } ul { @for m in &training.missing { li { (m) } } } }
                        p.caution { (advise::caution::TRAINING) }
                    } }
                }
                @if !charts.is_empty() { section.leaf { h2 { "Charts, four months" } @for chart in charts { (chart) } p { a.lone href={ "/book?bird=" (bird.id) } { "The same as a table" } } } }
            }
            div {
                section.leaf {
                    h2 { "Who she is" }
                    dl.plain {
                        @for (what, value) in [("Other names", Some(d.aliases.join(", ")).filter(|a| !a.is_empty())), ("Hatched", d.hatched.clone()), ("Ring", d.ring.clone()), ("Chip", d.chip.clone()), ("Origin", d.origin.clone()), ("Permits", d.permits.clone()), ("Remarks", d.remarks.clone())] {
                            @if let Some(value) = value { dt { (what) } dd { (value) } }
                        }
                        dt { "Floor" } dd { (d.floor_g.map(|g| say::mass(g, units)).unwrap_or_else(|| "not set".into())) }
                        dt { "Aim" } dd { (d.target_g.map(|g| say::mass(g, units)).unwrap_or_else(|| "not set".into())) }
                        dt { "Fed up" } dd { (d.fed_up_g.map(|g| say::mass(g, units)).unwrap_or_else(|| "not known".into())) }
                    }
                    p.caution { "The floor is the weight she must never go under. Set it with an avian vet who has felt her breastbone." }
                    @if !d.furniture.is_empty() {
                        h3 { "Worn on the scale" }
                        ul { @for f in &d.furniture { li { (f.item) ", " (say::worn(f.grams, units)) @if !f.worn { " (taken off to weigh)" } } } }
                    }
                    div.acts { a.press href={ "/birds/" (bird.id) "/edit" } { "Change" } a.press href={ "/reports/vet?bird=" (bird.id) } { "Sheet for the vet" } }
                }
                section.leaf {
                    h2 { "What happened" }
                    @if events.is_empty() { p { "Nothing entered yet: acquired, ringed, seen by the vet, transferred, lost, found, died." } }
                    dl.plain { @for e in events.iter().rev() { dt { (say::date(e.at.date_naive())) } dd { (say::capital(e.kind.word())) @if !e.text.is_empty() { ": " (e.text) } } } }
                    details {
                        summary { "Enter an event" }
                        form method="post" action={ "/birds/" (bird.id) "/event" } {
                            div.fields {
                                div { label for="kind" { "What" } select #kind name="kind" { @for kind in BirdEventKind::ALL { option { (kind.word()) } } } }
                                div { label for="at" { "Day" } input #at name="at" type="date" required value=(gather::today()); }
                                div { label for="text" { "In your words" } input #text name="text" maxlength="500"; }
                            }
                            button.main { "Enter" }
                        }
                    }
                }
            }
        }
    }
}

fn standing(advice: &note::Advice, units: Units) -> Markup {
    html! {
        dl.plain {
            @if let Some(t) = advice.trend { dt { "Trend" } dd { (say::about(t.grams, units)) ", " (say::change(t.per_day_g, units)) " a day" } }
            @if let Some(f) = advice.flying_weight {
                dt { "Flies best" } dd { "about " (say::about(f.best_g, units)) " (" (say::about(f.low_g, units)) " to " (say::about(f.high_g, units)) "), from " (say::count(f.sessions as usize, "session")) ", evidence " (format!("{:?}", f.evidence).to_lowercase()) }
            }
            @if let Some(f) = &advice.forecast { dt { "Next weigh-in" } dd { (say::about(f.grams, units)) " (" (say::about(f.low_g, units)) " to " (say::about(f.high_g, units)) "), nine times in ten" } }
        }
        @if advice.flying_weight.is_some() { details { summary { "On flying weight" } p.caution { (advise::caution::FLYING_WEIGHT) } p.caution { (advise::caution::FORECAST) } } }
    }
}

/// Shows the form for a new bird.
pub async fn new(Extract(state): Extract<State>) -> Result<Markup, Response> {
    form(state, None, BirdDetails::default(), None).await
}

/// Shows the form for a bird that is here.
pub async fn edit(Extract(state): Extract<State>, Path(bird): Path<String>) -> Result<Markup, Response> {
    let bird = gather::on(&state, move |state| state.store().bird(&BirdId::new(bird))).await?;
    form(state, Some(bird.id), bird.details, None).await
}

async fn form(
    state: State,
    id: Option<BirdId>,
    d: BirdDetails,
    trouble: Option<String>,
) -> Result<Markup, Response> {
    let title = if id.is_some() { "Change a bird" } else { "Enter a bird" };
    let said = d.units;
    let (frame, units) = gather::on(&state, move |state| {
        Ok((
            gather::frame(state.store(), Place::Birds, title)?,
            gather::units_set(state.store())?.unwrap_or(said),
        ))
    })
    .await?;
    let action = id.as_ref().map_or("/birds".to_owned(), |id| format!("/birds/{id}"));
    let mass = |g: Option<f64>| g.map(|g| say::mass(g, units)).unwrap_or_default();
    let unit = if units == Units::Metric { "grams" } else { "pounds and ounces" };
    let field = |name: &'static str, label: &str, value: &str, help: &str| html! { div { label for=(name) { (label) @if !help.is_empty() { span.small { " " (help) } } } input id=(name) name=(name) value=(value) maxlength="300" autocomplete="off"; } };
    Ok(shell::page(
        &frame,
        html! {
            header { h1 { (title) } }
            form.leaf method="post" action=(action) {
                @if let Some(why) = &trouble { p role="alert" data-news { strong { (why) } } }
                div.fields {
                    div { label for="name" { "Name" } input #name name="name" value=(d.name) required maxlength="60" autocomplete="off"; }
                    (field("aliases", "Other names", &d.aliases.join(", "), "with commas between"))
                    (field("species", "Species", d.species.as_deref().unwrap_or_default(), ""))
                    div { label for="sex" { "Sex" } select #sex name="sex" { @for (value, word) in [("", "not known"), ("female", "female"), ("male", "male")] { option value=(value) selected[d.sex.as_deref().unwrap_or_default() == value] { (word) } } } }
                    div { label for="hatched" { "Hatched" } input #hatched name="hatched" type="date" value=(d.hatched.as_deref().unwrap_or_default()); }
                }
                h2 { "Weights" }
                p.caution { "Set the floor with an avian vet. She should never be under it." }
                div.fields {
                    (field("floor", "Floor: never below", &mass(d.floor_g), unit))
                    (field("target", "Weight aimed for", &mass(d.target_g), unit))
                    (field("fed_up", "Weight when fed freely", &mass(d.fed_up_g), unit))
                div { label for="units" { "Weights are said in" } select #units name="units" { @for (value, word) in [(Units::Metric, "grams"), (Units::Avoirdupois, "pounds and ounces")] { option value=(units_word(value)) selected[d.units == value] { (word) } } } }
                }
                h2 { "Worn on the scale" }
                p { "Jesses, bells, transmitter: taken off every reading when marked as worn." }
                @for i in 0..WORN_LINES.max(d.furniture.len() + 1) {
                    @let f = d.furniture.get(i);
                    fieldset { legend.aside { "Item " (i + 1) }
                        div.fields {
                            div { label for={ "item" (i) } { "Item " (i + 1) } input id={ "item" (i) } name={ "item" (i) } value=(f.map(|f| f.item.as_str()).unwrap_or_default()) list="equipment" maxlength="60"; }
                            div { label for={ "weighs" (i) } { "Grams" } input id={ "weighs" (i) } name={ "weighs" (i) } inputmode="decimal" value=(f.map(|f| say::trim(f.grams, 2)).unwrap_or_default()); }
                            label.tickbox { input type="checkbox" name={ "worn" (i) } value="yes" checked[f.is_none_or(|f| f.worn)]; "worn when weighed" }
                        }
                    }
                }
                h2 { "For the record" }
                div.fields {
                    (field("ring", "Leg ring", d.ring.as_deref().unwrap_or_default(), ""))
                    (field("chip", "Microchip", d.chip.as_deref().unwrap_or_default(), ""))
                    (field("origin", "Origin", d.origin.as_deref().unwrap_or_default(), "breeder, licence"))
                    (field("permits", "Permits", d.permits.as_deref().unwrap_or_default(), ""))
                    (field("remarks", "Remarks", d.remarks.as_deref().unwrap_or_default(), ""))
                }
                div.acts { button.main { "Keep" } a.press href=(id.as_ref().map_or("/birds".to_owned(), |id| format!("/birds/{id}"))) { "Leave as it was" } }
            }
            (crate::fields::lists())
        },
    ))
}

fn units_word(units: Units) -> &'static str {
    match units {
        Units::Metric => "metric",
        Units::Avoirdupois => "avoirdupois",
    }
}

fn read(typed: &Typed, was: &BirdDetails, units: Units) -> Result<BirdDetails, String> {
    let get = |name: &str| typed.get(name).map(|t| t.trim()).unwrap_or_default();
    let words = |name: &str| Some(get(name).to_owned()).filter(|t| !t.is_empty());
    let mass = |name: &str, was: Option<f64>| -> Result<Option<f64>, String> {
        match get(name) {
            "" => Ok(None),
            // What is shown is rounded: typed back unchanged, it is the same weight.
            text if was.is_some_and(|g| say::mass(g, units) == text) => Ok(was),
            text => say::read_mass(text, units).map(|g| Some(g.get())),
        }
    };
    if get("name").is_empty() {
        return Err("A bird needs a name: notes are told apart by it.".into());
    }
    if let Some(day) = words("hatched")
        && gather::start_of(&day).is_none()
    {
        return Err(format!("“{day}” is no date."));
    }
    let mut furniture = Vec::new();
    for i in 0.. {
        let (Some(item), grams) = (typed.get(&format!("item{i}")), get(&format!("weighs{i}"))) else { break };
        if item.trim().is_empty() && grams.is_empty() {
            continue;
        }
        let grams: f64 = grams
            .replace(',', ".")
            .parse()
            .ok()
            .filter(|g| (0.0..=500.0).contains(g))
            .ok_or(format!("Say how many grams the {} weighs.", item.trim()))?;
        furniture.push(Furniture {
            item: item.trim().to_owned(),
            grams,
            worn: typed.contains_key(&format!("worn{i}")),
        });
    }
    let details = BirdDetails {
        name: get("name").to_owned(),
        aliases: get("aliases").split(',').map(|a| a.trim().to_owned()).filter(|a| !a.is_empty()).collect(),
        species: words("species"),
        sex: words("sex"),
        hatched: words("hatched"),
        ring: words("ring"),
        chip: words("chip"),
        origin: words("origin"),
        permits: words("permits"),
        floor_g: mass("floor", was.floor_g)?,
        target_g: mass("target", was.target_g)?,
        fed_up_g: mass("fed_up", was.fed_up_g)?,
        units: match get("units") {
            "metric" => Units::Metric,
            "avoirdupois" => Units::Avoirdupois,
            _ => was.units,
        },
        furniture,
        remarks: words("remarks"),
    };
    match (details.floor_g, details.target_g) {
        (Some(floor), Some(target)) if target < floor => {
            Err("The weight aimed for lies under the floor. Raise it, or ask your vet about the floor."
                .into())
        }
        _ => Ok(details),
    }
}

/// Enters a new bird.
pub async fn add(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(typed): Form<Typed>,
) -> Response {
    save(state, hand, None, typed).await
}

/// Changes a bird.
pub async fn change(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(bird): Path<String>,
    Form(typed): Form<Typed>,
) -> Response {
    save(state, hand, Some(BirdId::new(bird)), typed).await
}

async fn save(state: State, hand: Hand, id: Option<BirdId>, typed: Typed) -> Response {
    let done = gather::on(&state, move |state| {
        let store = state.store();
        let was = match &id {
            Some(id) => store.bird(id)?.details,
            None => BirdDetails::default(),
        };
        let units = gather::units_set(store)?.unwrap_or(was.units);
        let details = match read(&typed, &was, units) {
            Ok(details) => details,
            Err(why) => return Ok(Err((id, was, why))),
        };
        Ok(Ok(match id {
            Some(id) => {
                store.change_bird(&id, details, &hand.who)?;
                id
            }
            None => store.add_bird(details, &hand.who)?,
        }))
    })
    .await;
    match done {
        Ok(Ok(id)) => go(&format!("/birds/{id}")),
        Ok(Err((id, was, why))) => match form(state, id, was, Some(why)).await {
            Ok(page) => (StatusCode::UNPROCESSABLE_ENTITY, page).into_response(),
            Err(answer) => answer,
        },
        Err(answer) => answer,
    }
}

/// Enters a dated event.
pub async fn event(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Path(bird): Path<String>,
    Form(typed): Form<Typed>,
) -> Response {
    let get = |name: &str| typed.get(name).map(String::as_str).unwrap_or_default().trim().to_owned();
    let (Some(kind), Some(at)) = (BirdEventKind::from_word(&get("kind")), gather::start_of(&get("at")))
    else {
        return crate::guard::told(StatusCode::UNPROCESSABLE_ENTITY, "Choose what happened and on which day");
    };
    let (id, text) = (BirdId::new(bird), get("text"));
    let back = format!("/birds/{id}");
    match gather::on(&state, move |state| state.store().add_bird_event(&id, kind, at, &text, &hand.who)).await
    {
        Ok(()) => go(&back),
        Err(answer) => answer,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn a_bird_is_read_from_her_form() {
        let form = [
            ("name", " Teal "),
            ("aliases", "T, Tealy,"),
            ("floor", "100"),
            ("target", "108.5"),
            ("item0", "jesses"),
            ("weighs0", "1,2"),
            ("worn0", "yes"),
            ("item1", ""),
            ("weighs1", ""),
            ("item2", "hood"),
            ("weighs2", "2"),
        ];
        let bird = read(&typed(&form), &BirdDetails::default(), Units::Metric).unwrap();
        assert_eq!((bird.name.as_str(), bird.aliases.len(), bird.target_g), ("Teal", 2, Some(108.5)));
        assert_eq!(bird.furniture_g(), Some(1.2));
        for (bad, part) in [
            (&[("name", "")][..], "needs a name"),
            (&[("name", "Teal"), ("floor", "light")], "no weight"),
            (&[("name", "Teal"), ("floor", "110"), ("target", "100")], "under the floor"),
            (&[("name", "Teal"), ("item0", "bell"), ("weighs0", "")], "how many grams"),
            (&[("name", "Teal"), ("hatched", "spring")], "no date"),
        ] {
            let why = read(&typed(bad), &BirdDetails::default(), Units::Metric).unwrap_err();
            assert!(why.contains(part), "{why}");
        }
    }
}
