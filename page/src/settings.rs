//! Settings: who keeps, in which units, the phones, the scales, and where the advice's numbers stand.

use crate::{
    State,
    fields::Typed,
    gather,
    guard::{Hand, go, told},
    say, shell,
    shell::Place,
};
use axum::{Extension, Form, extract::State as Extract, http::StatusCode, response::Response};
use maud::{Markup, html};
use note::Units;
use store::{Device, ScaleCheck};

/// Minutes between a photo and a weight that belong together.
const WINDOWS: &[(&str, &str)] =
    &[("5", "5 minutes"), ("10", "10 minutes"), ("20", "20 minutes"), ("60", "an hour")];

/// Shows the settings.
pub async fn page(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
) -> Result<Markup, Response> {
    let (frame, content) = gather::on(&state, move |state| {
        let store = state.store();
        let (units, set) = (gather::units(store)?, gather::units_set(store)?);
        let text = |key: &str| -> store::Result<String> { Ok(store.setting(key)?.map(|v| v.as_str().map_or(v.to_string(), str::to_owned)).unwrap_or_default()) };
        let content = html! {
            header { h1 { "Settings" } }
            div.pair {
                form.leaf method="post" action="/settings" {
                    h2 { "The keeper" }
                    div.fields {
                        div { label for="keeper" { "Your name" } input #keeper name="keeper" value=(text("keeper")?) maxlength="60" autocomplete="name"; }
                        div { label for="units" { "Units shown" } select #units name="units" { option value="each" selected[set.is_none()] { "as each bird is weighed" } option value="metric" selected[set == Some(Units::Metric)] { "grams, metres" } option value="avoirdupois" selected[set == Some(Units::Avoirdupois)] { "pounds, yards" } } }
                        @let window = text(store::PAIRING_MINUTES)?;
                        div { label for="window" { "Photo and weight belong together within" } select #window name="window" { @for (value, words) in WINDOWS { option value=(value) selected[*value == window || (window.is_empty() && *value == "20")] { (words) } } } }
                    }
                    p.small { "Your name stands beside everything you confirm at this machine." }
                    button.main { "Keep" }
                }
                (phones(state, &store.devices()?, hand.desk))
                (scales(&store.scale_checks(12)?, &store.scale_warnings()?, units))
                section.leaf {
                    h2 { "The advice" }
                    p { (advise::caution::GENERAL) }
                    details { summary { "Every number that it rests on" }
                        dl.plain { @for range in advise::Settings::ranges() { dt { (range.name) } dd { (range.default) " (" (range.low) " to " (range.high) ")" br; span.small { (range.ground) } } } }
                        p.small { "P published and seen, P2 quoted in a published second source, M from memory, C common practice of the trade without a source, D derived." }
                    }
                }
            }
        };
        Ok((gather::frame(store, Place::Settings, "Settings")?, content))
    })
    .await?;
    Ok(shell::page(&frame, content))
}

fn phones(state: &State, devices: &[Device], desk: bool) -> Markup {
    let day = |m: store::Moment| say::date(m.date_naive());
    html! {
        section.leaf #phones {
            h2 { "Phones" }
            @if state.shared.phones.is_none() {
                p { "The page is open to this machine only. To use it from a phone in the house, start it with:" }
                p.hash { "varvel serve --lan" }
            } @else if desk {
                form method="post" action="/settings/phone" { button.main { "Let a phone in" } }
            }
            @if devices.is_empty() { p { "No phone has been let in." } }
            ul { @for d in devices { li {
                strong { (d.name) } ", " (d.keeper) ", since " (day(d.paired))
                @if let Some(seen) = d.seen { ", last seen " (day(seen)) }
                @if let Some(out) = d.revoked { ", shut out " (day(out)) }
                @else if desk { form method="post" action={ "/settings/phone/" (d.id) "/revoke" } { button.no aria-label={ "Shut out " (d.name) } { "Shut out" } } }
            } } }
        }
    }
}

fn scales(checks: &[ScaleCheck], warnings: &[String], units: Units) -> Markup {
    html! {
        section.leaf {
            h2 { "Scales" }
            p { "Lay a known mass on the scale now and then. A scale that is off by two grams makes every weight wrong." }
            @for why in warnings { p { strong { (why) } } }
            form method="post" action="/settings/scale" {
                div.fields {
                    div { label for="scale" { "Scale" } input #scale name="scale" required maxlength="60" value=(checks.first().map(|c| c.scale.as_str()).unwrap_or_default()); }
                    div { label for="known" { "Mass laid on" } input #known name="known" required maxlength="20"; }
                    div { label for="shown" { "The scale shows" } input #shown name="shown" required maxlength="20"; }
                }
                button { "Note the check" }
            }
            @if !checks.is_empty() { ul { @for c in checks { li { (say::date(c.at.date_naive())) ", " (c.scale) ": " (say::mass(c.known_g.get(), units)) " showed " (say::mass(c.shown_g.get(), units)) " (" (say::change(c.off_by_g(), units)) ")" } } } }
        }
    }
}

/// Keeps the settings.
pub async fn change(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(typed): Form<Typed>,
) -> Response {
    let get = |name: &str| typed.get(name).map(|t| t.trim().to_owned()).unwrap_or_default();
    let (keeper, units, window) = (get("keeper"), get("units"), get("window"));
    if keeper.chars().count() > 60
        || !matches!(units.as_str(), "each" | "metric" | "avoirdupois")
        || !WINDOWS.iter().any(|(v, _)| *v == window)
    {
        return told(
            StatusCode::UNPROCESSABLE_ENTITY,
            "Choose the units and the window from their lists; a name has at most sixty letters",
        );
    }
    let done = gather::on(&state, move |state| {
        let store = state.store();
        if !keeper.is_empty() && !store.keepers()?.contains(&keeper) {
            store.add_keeper(&keeper, &hand.who)?;
        }
        store.set_setting("keeper", &keeper.into(), &hand.who)?;
        store.set_setting("units", &units.into(), &hand.who)?;
        store.set_setting(
            store::PAIRING_MINUTES,
            &serde_json::json!(window.parse::<u32>().unwrap_or(20)),
            &hand.who,
        )
    })
    .await;
    match done {
        Ok(()) => go("/settings"),
        Err(answer) => answer,
    }
}

/// Notes that a known mass was laid on a scale.
pub async fn scale_check(
    Extract(state): Extract<State>,
    Extension(hand): Extension<Hand>,
    Form(typed): Form<Typed>,
) -> Response {
    let get = |name: &str| typed.get(name).map(|t| t.trim().to_owned()).unwrap_or_default();
    let (scale, known, shown) = (get("scale"), get("known"), get("shown"));
    let done = gather::on(&state, move |state| {
        let units = gather::units(state.store())?;
        let (known, shown) = match (say::read_mass(&known, units), say::read_mass(&shown, units)) {
            (Ok(known), Ok(shown)) if !scale.is_empty() => (known, shown),
            (Err(why), _) | (_, Err(why)) => return Ok(Some(why)),
            _ => return Ok(Some("Give the scale a name".into())),
        };
        state.store().add_scale_check(&scale, known, shown, gather::now(), &hand.who)?;
        Ok(None)
    })
    .await;
    match done {
        Ok(None) => go("/settings"),
        Ok(Some(why)) => told(StatusCode::UNPROCESSABLE_ENTITY, &why),
        Err(answer) => answer,
    }
}
