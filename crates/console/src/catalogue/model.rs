use application::see_catalogue::{ModelEntry, SeeModel};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::equipment::{Bounds, Model};

use super::{VersionLink, measured, named, origin, position, versions};
use crate::access::SignedIn;
use crate::order::Unit;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "catalogue/model.html")]
struct ModelPage {
    shell: Shell,
    title: String,
    origin: String,
    versions: Vec<VersionLink>,
    reference: String,
    positions: Vec<String>,
    limits: Vec<LimitRow>,
    procedures: Vec<(String, String)>,
    faults: Option<(String, String)>,
}

/// What is read, what a sound machine shows, what it must keep.
pub(super) struct LimitRow {
    pub what: String,
    pub typical: String,
    pub limit: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let (key, version) = named(&uri)?;
    let entry = state.application.ask(&caller, SeeModel { key, version }).await?;
    let ModelEntry { model, faults, procedures } = entry;
    let of = &model.kept.entry;
    let at = format!("/catalogue/models/{}", of.key);
    let faults = faults.map(|kept| {
        let count = wording::say_with("catalogue-faults", &[("count", kept.entry.faults.len().into())]);
        (format!("/catalogue/faults/{}", of.key), count)
    });
    let procedures = procedures.iter().map(|procedure| {
        (
            format!("/catalogue/procedures/{}", procedure.key),
            wording::text(procedure.title.as_str()).into_owned(),
        )
    });
    let page = ModelPage {
        shell: Shell::of(wording::text(of.title.as_str()).into_owned(), &caller),
        title: wording::text(of.title.as_str()).into_owned(),
        origin: origin(model.kept.built_in),
        versions: versions(&at, of.version, model.newest),
        reference: reference(of),
        positions: of.positions.iter().map(|of| position(of.key())).collect(),
        limits: limits(of),
        procedures: procedures.collect(),
        faults,
    };
    Ok(show_page(StatusCode::OK, &page))
}

pub(super) fn reference(model: &Model) -> String {
    let reference = &model.reference;
    let variables = [
        ("pressure", Unit::of("bar").write(reference.static_pressure_bar).into()),
        ("dynamic", Unit::of("bar").write(reference.dynamic_pressure_bar).into()),
        ("voltage", Unit::of("V").write(reference.supply_voltage_v).into()),
        ("water", Unit::of("Cel").write(reference.water_temperature_cel).into()),
    ];
    wording::say_with("model-reference", &variables)
}

/// All that is limited or has a usual value, in the order of the model's own lists.
pub(super) fn limits(model: &Model) -> Vec<LimitRow> {
    let mut all: Vec<_> = model.functional_limits.iter().map(|limit| &limit.of).collect();
    let others = model.typical_values.iter().map(|typical| &typical.of);
    all.extend(others.filter(|of| model.functional_limit(of).is_none()));
    let row = |of: &domain::equipment::Measurement| {
        let limit = model.functional_limit(of);
        let typical = model.typical_value(of);
        LimitRow {
            what: measured(of),
            typical: typical.map_or_else(String::new, |typical| {
                let unit = Unit::of(typical.quantity.canonical_unit());
                typical.canonical().map_or_else(
                    |_| String::new(),
                    |(value, bounds)| match between(bounds, unit) {
                        range if range.is_empty() => unit.write(value),
                        range => format!("{} ({range})", unit.write(value)),
                    },
                )
            }),
            limit: limit.map_or_else(String::new, |limit| {
                let unit = Unit::of(limit.quantity.canonical_unit());
                limit.canonical().map_or_else(|_| String::new(), |bounds| between(bounds, unit))
            }),
        }
    };
    all.into_iter().map(row).collect()
}

/// Two ends, or the one that there is.
fn between(bounds: Bounds, unit: Unit) -> String {
    match (bounds.lower, bounds.upper) {
        (Some(lower), Some(upper)) => {
            let variables = [("lower", unit.write(lower).into()), ("upper", unit.write(upper).into())];
            wording::say_with("model-between", &variables)
        }
        (Some(lower), None) => wording::say_with("at-least", &[("value", unit.write(lower).into())]),
        (None, Some(upper)) => wording::say_with("at-most", &[("value", unit.write(upper).into())]),
        (None, None) => String::new(),
    }
}
