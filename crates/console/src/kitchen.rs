//! A kitchen: why does it call again?

use application::Caller;
use application::repeats::KitchenRepeats;
use application::see_kitchen::{KitchenFile, SeeKitchen, WorkOrder};
use application::site::GetSiteWater;
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;

use domain::id::SiteId;
use domain::repeats::fleet::AgainstChance;

use crate::access::{Posted, SignedIn};
use crate::order::axes::notes::{facts, facts_form};
use crate::order::moves::notes::facts as facts_told;
use crate::order::segment;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::against::{self, Rate};
use crate::parts::chains::{CauseRow, ChainRow};
use crate::parts::moves::{Attempt, Input, Move};
use crate::parts::water::Water;
use crate::see;
use crate::state::ConsoleState;
use crate::today::LineView;
use crate::when;

#[derive(Template)]
#[template(path = "kitchen.html")]
struct KitchenPage {
    shell: Shell,
    name: String,
    place: String,
    call_href: String,
    sentence: String,
    against: Against,
    water: Water,
    water_columns: Vec<String>,
    /// Where its parts stand: what hardness does to their lives, an address each.
    lives_by_hardness: Vec<(String, String)>,
    contacts: Vec<String>,
    facts: Vec<String>,
    tell: Option<Move>,
    machines: Vec<MachineRow>,
    open: Vec<LineView>,
    past: Vec<PastOrder>,
}

/// What failed here beside what was expected.
struct Against {
    sentence: String,
    is_beyond: bool,
    trend: Option<String>,
    positions: Vec<PositionRow>,
    chains: Vec<ChainRow>,
    causes: Vec<CauseRow>,
}

struct PositionRow {
    position: String,
    had: u32,
    expected: String,
    rate: Option<Rate>,
    says: String,
    is_beyond: bool,
}

struct MachineRow {
    label: String,
    href: String,
    model: String,
    serial: String,
    state: String,
    is_stopped: bool,
    /// Its corrective orders of the last twelve months, a mark a month: how many.
    months: Vec<usize>,
    calls: String,
}

struct PastOrder {
    number: i64,
    at: String,
    machine: String,
    complaint: String,
    end: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    page(&state, &caller, id_in(&uri)?, &Attempt::default()).await
}

/// Tells what holds of the kitchen whoever comes.
pub(crate) async fn tell_facts(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, fields): Posted,
) -> Result<Response, PageFault> {
    let site = id_in(&uri)?;
    let told = match facts_told(site, &fields) {
        Ok(told) => state.application.perform(&caller, told).await,
        Err(refusal) => Err(refusal),
    };
    match told {
        Ok(_) => Ok(see(&format!("/kitchens/{site}#facts"))),
        Err(refusal) if refusal.is_for_the_caller() => {
            page(&state, &caller, site, &Attempt::refused("facts", &refusal, fields)).await
        }
        Err(refusal) => Err(refusal.into()),
    }
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    site: SiteId,
    attempt: &Attempt,
) -> Result<Response, PageFault> {
    let file = state.application.ask(caller, SeeKitchen(site)).await?;
    let water = state.application.ask(caller, GetSiteWater(site)).await?;
    let zone = when::zone(file.site.time_zone.as_str());
    let label = |order: &WorkOrder| {
        let known = file.machines.iter().find(|(machine, _)| Some(machine.id) == order.appliance);
        known.map_or_else(
            || wording::say("machine-not-known"),
            |(machine, _)| machine.position_label.to_string(),
        )
    };
    let past = file.orders.iter().filter(|order| order.state.has_ended()).map(|order| PastOrder {
        number: order.number,
        at: when::clock(zone, order.received_at, file.now),
        machine: label(order),
        complaint: complaint(order),
        end: order.outcome.map(|end| wording::term("outcome", end.word()).into_owned()).unwrap_or_default(),
    });
    let contacts = file.contacts.iter().filter_map(|contact| {
        let name = contact.name.as_ref()?.to_string();
        Some(contact.phone.as_ref().map_or_else(|| name.clone(), |phone| format!("{name}, {phone}")))
    });
    let may_tell = caller.require("update_standing_facts").is_ok();
    let tell = may_tell.then(|| facts_form(format!("/kitchens/{site}/standing-facts"), &file.site));
    let status = if attempt.refusals.is_empty() { StatusCode::OK } else { StatusCode::CONFLICT };
    let page = KitchenPage {
        shell: Shell::of(file.site.name.to_string(), caller)
            .live(&file.site.id, &format!("/kitchens/{}", file.site.id)),
        name: file.site.name.to_string(),
        place: file.site.place.to_string(),
        call_href: format!("/calls/new?site={}", file.site.id),
        sentence: wording::say_with("kitchen-calls", &[("count", file.calls_in_a_year.into())]),
        against: Against::of(&file.repeats),
        water: Water::of(&water, file.now),
        water_columns: Water::columns(),
        lives_by_hardness: file
            .positions
            .iter()
            .map(|position| lives_by_hardness(position.as_str()))
            .collect(),
        contacts: contacts.collect(),
        facts: facts(&file.site),
        tell: tell.map(|form| form.after(attempt)),
        machines: machines(&file),
        open: file.open.iter().map(|line| LineView::of(line, file.now)).collect(),
        past: past.collect(),
    };
    Ok(show_page(status, &page))
}

/// A position, and where the lives of its parts stand by the hardness of the water.
fn lives_by_hardness(position: &str) -> (String, String) {
    let href = format!("/numbers/part-life?position={position}&by=hardness");
    (wording::term("position", position).into_owned(), href)
}

/// So unlikely by chance, a trend is told.
const TOLD_TREND: f64 = 0.05;

impl Against {
    fn of(repeats: &KitchenRepeats) -> Self {
        let sentence = repeats.whole.as_ref().map_or_else(
            || wording::say("against-nothing"),
            |standing| against::sentence(standing, repeats.window.days()),
        );
        let trend = repeats.trend.filter(|trend| trend.p <= TOLD_TREND).map(|trend| {
            let rarity = [("rarity", against::rarity(trend.p).into())];
            if trend.statistic > 0.0 {
                wording::say_with("against-worse", &rarity)
            } else {
                wording::say_with("against-better", &rarity)
            }
        });
        let had = repeats
            .positions
            .iter()
            .filter(|(_, standing)| standing.cell.n + standing.cell.n_without_fleet > 0);
        let positions = had.map(|(position, standing)| PositionRow {
            position: wording::term("position", position.key()).into_owned(),
            had: standing.cell.n + standing.cell.n_without_fleet,
            expected: against::figure(standing.cell.expected),
            rate: Rate::of(standing),
            says: against::says(standing),
            is_beyond: standing.says == AgainstChance::Beyond,
        });
        let is_beyond = repeats.whole.is_some_and(|standing| standing.says == AgainstChance::Beyond);
        Self {
            sentence,
            is_beyond,
            trend,
            positions: positions.collect(),
            chains: repeats.chains.iter().map(|chain| ChainRow::of(chain, repeats.as_of)).collect(),
            causes: repeats.causes.iter().map(CauseRow::of).collect(),
        }
    }
}

/// The id at the end of a path, if it is one.
pub(crate) fn id_in<T: TryFrom<uuid::Uuid>>(uri: &Uri) -> Result<T, PageFault> {
    let id = segment(uri, 2).parse::<uuid::Uuid>().ok().and_then(|id| T::try_from(id).ok());
    id.ok_or(PageFault::NotFound)
}

pub(crate) fn complaint(order: &WorkOrder) -> String {
    let symptoms: Vec<_> =
        order.symptoms.iter().map(|symptom| wording::term("symptom", symptom.as_str())).collect();
    if symptoms.is_empty() {
        wording::term("order-kind", order.kind.word()).into_owned()
    } else {
        symptoms.join(", ")
    }
}

fn machines(file: &KitchenFile) -> Vec<MachineRow> {
    let row = |(machine, model): &(application::see_kitchen::Appliance, String)| {
        let mut months = vec![0; 12];
        let is_call = |order: &&WorkOrder| {
            order.appliance == Some(machine.id) && order.kind == domain::work::OrderKind::Corrective
        };
        for order in file.orders.iter().filter(is_call) {
            let ago = (file.now.instant() - order.received_at.instant()).num_days() / 31;
            if let Some(month) = usize::try_from(ago).ok().and_then(|ago| months.get_mut(ago)) {
                *month += 1;
            }
        }
        months.reverse();
        let calls: usize = months.iter().sum();
        MachineRow {
            label: machine.position_label.to_string(),
            href: format!("/machines/{}", machine.id),
            model: wording::text(model).into_owned(),
            serial: machine.serial.as_ref().map(ToString::to_string).unwrap_or_default(),
            state: wording::term("appliance-state", machine.state.word()).into_owned(),
            is_stopped: file.stopped.iter().any(|stopped| stopped.appliance == machine.id),
            months,
            calls: wording::say_with("kitchen-machine-calls", &[("count", calls.into())]),
        }
    };
    file.machines.iter().map(row).collect()
}
