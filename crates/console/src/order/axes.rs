//! The five axes of an order, kept apart, and what it waits for: each a sentence with its moves.

mod change;
mod done;
mod found;
pub(crate) mod notes;

use std::collections::BTreeMap;

use application::Caller;
use application::part_line::PartLine;
use application::see_order::OrderFile;
use application::work_order::PossibleMove;
use chrono_tz::Tz;
use domain::id::PersonId;
use domain::work::{
    ApplianceState, Decision, OrderAction, OrderState, Outcome, PartLineAction, PartLineState, Payer,
    SymptomResult, VisitAction, VisitResult, VisitState, WaitingReason, part_line_after,
};
use uuid::Uuid;

use super::missing::all_in_words;
use crate::parts::moves::{Attempt, Input, Move, words_of};
use crate::parts::scale::{Scale, Tone};
use crate::when;

/// One axis: what stands, and what can be done.
pub(crate) struct Axis {
    pub key: &'static str,
    pub title: String,
    pub items: Vec<Item>,
    pub moves: Vec<Move>,
}

/// Something that stands on an axis, with its own moves.
#[derive(Default)]
pub(crate) struct Item {
    /// When, where that is told beside it.
    pub at: Option<String>,
    pub text: String,
    /// It must not stay as it is.
    pub is_bad: bool,
    pub scale: Option<Scale>,
    pub moves: Vec<Move>,
}

impl Item {
    fn plain(text: String) -> Self {
        Self { text, ..Self::default() }
    }
}

impl Axis {
    /// Whether a refusal stands beside one of its moves.
    pub fn shows_refusal(&self) -> bool {
        self.items.iter().flat_map(|item| &item.moves).chain(&self.moves).any(Move::is_open)
    }
}

/// Makes the axes of an order for somebody.
pub(crate) struct Maker<'a> {
    /// The page that its forms go to and come back to: `/orders/430`.
    pub at: String,
    pub file: &'a OrderFile,
    pub caller: &'a Caller,
    pub zone: Tz,
    pub attempt: &'a Attempt,
    pub next_id: &'a dyn Fn() -> Uuid,
}

/// Why the machine may not be used, while it may not.
pub(crate) fn open_stops(file: &OrderFile) -> Vec<String> {
    let open = file.stops.iter().filter(|stop| stop.release.is_none());
    open.map(|stop| {
        let dangers: Vec<_> =
            stop.dangers.iter().map(|danger| wording::term("danger", danger.word())).collect();
        let since = when::since(stop.stopped_at, file.now);
        let stopped = wording::say_with("today-stopped-since", &[("span", since.into())]);
        let dangers = dangers.join("; ");
        let parts = [dangers.as_str(), stop.why.as_str(), stopped.as_str()];
        parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
    })
    .collect()
}

/// The order in which an order is moved towards its end.
const WAY: [OrderAction; 6] = [
    OrderAction::Assess,
    OrderAction::Plan,
    OrderAction::StartRepair,
    OrderAction::ReportRepaired,
    OrderAction::Prove,
    OrderAction::Close,
];

impl Maker<'_> {
    pub fn axes(&self) -> Vec<Axis> {
        vec![
            self.order(),
            self.visit(),
            self.machine(),
            self.parts(),
            self.money(),
            self.waits(),
            self.notes(),
            self.kitchen(),
        ]
    }

    fn axis(&self, key: &'static str, title: &str, items: Vec<Item>, moves: Vec<Move>) -> Axis {
        let has_ended = self.file.order.state.has_ended();
        let moves = if has_ended { Vec::new() } else { moves };
        let moves = moves.into_iter().map(|of| of.after(self.attempt)).collect();
        let items = items.into_iter().map(|item| self.item(item, has_ended));
        Axis { key, title: wording::say(title), items: items.collect(), moves }
    }

    fn item(&self, item: Item, has_ended: bool) -> Item {
        let moves = if has_ended { Vec::new() } else { item.moves };
        Item { moves: moves.into_iter().map(|of| of.after(self.attempt)).collect(), ..item }
    }

    fn may(&self, operation: &str) -> bool {
        self.caller.require(operation).is_ok()
    }

    /// Whether he may do something, and the order goes on.
    fn may_still(&self, operation: &str) -> bool {
        !self.file.order.state.has_ended() && self.may(operation)
    }

    fn to(&self, rest: &str) -> String {
        format!("{}/{rest}", self.at)
    }

    fn now_field(&self) -> String {
        when::field(self.zone, self.file.now)
    }

    fn clock(&self, at: domain::time::Timestamp) -> String {
        when::clock(self.zone, at, self.file.now)
    }

    fn names(&self, people: &[PersonId]) -> String {
        let unknown = String::new();
        let name = |id: &PersonId| self.file.names.get(id).unwrap_or(&unknown).clone();
        people.iter().map(name).collect::<Vec<_>>().join(", ")
    }

    fn order(&self) -> Axis {
        let order = &self.file.order;
        let state = wording::term("order-state", order.state.word()).into_owned();
        let urgency = wording::term("urgency", order.urgency.word()).into_owned();
        let received = self.clock(order.received_at);
        let sentence = match (order.outcome, order.closed_at) {
            (Some(outcome), Some(at)) => wording::say_with(
                "order-ended",
                &[
                    ("outcome", wording::term("outcome", outcome.word()).into_owned().into()),
                    ("at", self.clock(at).into()),
                ],
            ),
            _ => wording::say_with(
                "order-stands",
                &[("state", state.into()), ("urgency", urgency.into()), ("at", received.into())],
            ),
        };
        let mut items = vec![Item::plain(sentence)];
        if let Some(at) = order.restored_at {
            items.push(Item::plain(wording::say_with("order-restored", &[("at", self.clock(at).into())])));
        }
        if let Some(at) = order.proof_doubted_at {
            items.push(Item::plain(wording::say_with("order-doubted", &[("at", self.clock(at).into())])));
        }
        items.extend(self.waivers());
        // An order may end early, but that is not where it is led.
        let is_proven = self.file.order.state == OrderState::Proven;
        let way =
            |of: &&PossibleMove| WAY.contains(&of.action) && (is_proven || of.action != OrderAction::Close);
        let next = self.file.moves.moves.iter().filter(way).rfind(|of| is_allowed(of));
        let next = next.map(|of| of.action);
        let mut moves = if self.may("act_on_work_order") {
            self.file
                .moves
                .moves
                .iter()
                .filter_map(|of| self.order_move(of, next == Some(of.action)))
                .collect()
        } else {
            Vec::new()
        };
        moves.extend(self.change());
        moves.extend(self.waiver());
        self.axis("order-axis", "axis-order", items, moves)
    }

    /// A move, unless the order is past it or not near it.
    fn order_move(&self, of: &PossibleMove, is_next: bool) -> Option<Move> {
        let order = &self.file.order;
        let is_here =
            of.missing.iter().all(|missing| !matches!(missing, domain::work::Missing::State { .. }));
        if !is_here {
            return None;
        }
        let action = of.action.word();
        let label = wording::term("order-action", action);
        let mut form =
            Move::new(action, self.to(&format!("moves/{action}")), label).with("version", order.version);
        form.is_main = is_next;
        form = match of.action {
            OrderAction::Assess | OrderAction::Plan | OrderAction::StartRepair => form,
            OrderAction::ReportRepaired => {
                form.asking(Input::when("restored_at", "field-restored-at", self.now_field()))
            }
            OrderAction::ResumeRepair | OrderAction::Cancel => {
                form.asking(Input::line("why", "field-why", true))
            }
            OrderAction::Prove => order.symptoms.iter().fold(form, |form, symptom| {
                let results = words_of("symptom-result", SymptomResult::WORDS);
                let mut input = Input::choice(&format!("symptom:{symptom}"), "field-symptom", results);
                if let Input::Choice { label, .. } = &mut input {
                    *label = wording::term("symptom", symptom.as_str()).into_owned();
                }
                form.asking(input)
            }),
            OrderAction::Close => return Some(self.closing(form, of)),
        };
        Some(form.lacking(all_in_words(&of.missing)))
    }

    fn closing(&self, form: Move, of: &PossibleMove) -> Move {
        let open: Vec<Outcome> =
            of.outcomes.iter().filter(|now| now.missing.is_empty()).map(|now| now.outcome).collect();
        if open.is_empty() {
            let mut missing = all_in_words(&of.missing);
            for now in &of.outcomes {
                let outcome = wording::term("outcome", now.outcome.word()).into_owned();
                let lacks = all_in_words(&now.missing).join("; ");
                let variables = [("outcome", outcome.into()), ("what", lacks.into())];
                missing.push(wording::say_with("missing-for-outcome", &variables));
            }
            return form.lacking(missing);
        }
        let outcomes: Vec<&str> = open.iter().map(|outcome| outcome.word()).collect();
        let mut form = form.asking(Input::choice("outcome", "field-outcome", words_of("outcome", &outcomes)));
        if self.file.appliance.is_some() {
            form = form.asking(self.machine_state());
        }
        if let Some((id, name)) = self.contact() {
            let options = [(String::new(), wording::say("nobody-signed")), (id, name)];
            form = form.asking(Input::choice("signed_off_by", "field-signed-off-by", options));
        }
        form
    }

    fn contact(&self) -> Option<(String, String)> {
        let contact = self.file.contact.as_ref()?;
        Some((contact.id.to_string(), contact.name.as_ref()?.to_string()))
    }

    fn machine_state(&self) -> Input {
        let stands = self.file.appliance.as_ref().map(|appliance| appliance.state);
        let mut states: Vec<&str> = stands.iter().map(|state| state.word()).collect();
        let all = [
            ApplianceState::Up,
            ApplianceState::Degraded,
            ApplianceState::Down,
            ApplianceState::UnsafeDoNotUse,
        ];
        states.extend(all.iter().filter(|state| stands != Some(**state)).map(|state| state.word()));
        Input::choice("appliance_state", "field-machine-left", words_of("appliance-state", &states))
    }

    fn visit(&self) -> Axis {
        let (mut items, mut has_open) = (Vec::new(), false);
        for visit in &self.file.visits {
            let people = self.names(&visit.people);
            let times = &visit.times;
            let (key, at) = match times.state() {
                VisitState::OnSite => ("visit-on-site", times.arrived_at),
                VisitState::OnTheWay => ("visit-on-the-way", times.set_out_at),
                VisitState::Left => ("visit-left", times.left_at),
                VisitState::Missed => ("visit-missed", times.missed_at),
                VisitState::CalledOff => ("visit-called-off", times.called_off_at),
                VisitState::ToCome => ("visit-to-come", None),
            };
            let result = times.result.map(|result| wording::term("visit-result", result.word()).into_owned());
            let variables = [
                ("people", people.into()),
                ("at", self.clock(at.unwrap_or(times.planned_at)).into()),
                ("result", result.unwrap_or_default().into()),
            ];
            has_open |= times.state().is_open();
            let mut moves = if self.may("act_on_visit") { self.steps(visit) } else { Vec::new() };
            moves.extend(self.replanning(visit));
            items.push(Item { text: wording::say_with(key, &variables), moves, ..Item::default() });
        }
        if items.is_empty() {
            items.push(Item::plain(wording::say("visit-none")));
        }
        let mut moves = Vec::new();
        if !has_open && self.may("create_visit") {
            let people = self.file.technicians.iter().map(|(id, name)| (id.to_string(), name.clone()));
            let book = Move::new("book", self.to("visits"), wording::say("visit-book"))
                .with("id", (self.next_id)())
                .asking(Input::when("planned_at", "field-planned-at", self.now_field()))
                .asking(Input::several("person", "field-people", people))
                .asking(Input::line("overlap_reason", "field-overlap", false))
                .lacking(all_in_words(&self.file.moves.missing_for_visit));
            moves.push(book);
        }
        self.axis("visit-axis", "axis-visit", items, moves)
    }

    /// Another time, other people: until somebody is there.
    fn replanning(&self, visit: &application::visit::Visit) -> Option<Move> {
        let is_ahead = matches!(visit.times.state(), VisitState::ToCome | VisitState::OnTheWay);
        if !is_ahead || !self.may("update_visit") {
            return None;
        }
        let people = self.file.technicians.iter().map(|(id, name)| (id.to_string(), name.clone()));
        let is_sent = |id: &str| visit.people.iter().any(|person| person.to_string() == id);
        let to = self.to(&format!("visits/{}/plan", visit.id));
        let planned_at = when::field(self.zone, visit.times.planned_at);
        let form = Move::new(format!("plan-{}", visit.id), to, wording::say("visit-replan"))
            .with("version", visit.version)
            .asking(Input::when("planned_at", "field-planned-at", planned_at))
            .asking(Input::several("person", "field-people", people).choosing(is_sent))
            .asking(Input::line("overlap_reason", "field-overlap", false));
        Some(form)
    }

    pub fn steps(&self, visit: &application::visit::Visit) -> Vec<Move> {
        let step = |action: &VisitAction| {
            let word = action.word();
            let key = format!("{word}-{}", visit.id);
            let to = self.to(&format!("visits/{}/{word}", visit.id));
            let form = Move::new(key, to, wording::term("visit-action", word)).with("version", visit.version);
            match action {
                VisitAction::SetOut | VisitAction::Arrive => form,
                VisitAction::Leave => {
                    let results = words_of("visit-result", VisitResult::WORDS);
                    let form = form.asking(Input::choice("result", "field-visit-result", results));
                    if self.file.appliance.is_some() { form.asking(self.machine_state()) } else { form }
                }
                VisitAction::Miss | VisitAction::CallOff => {
                    form.asking(Input::line("why", "field-why", false))
                }
            }
        };
        VisitAction::ALL.iter().filter(|action| visit.times.allows(**action)).map(step).collect()
    }

    fn machine(&self) -> Axis {
        let Some(appliance) = &self.file.appliance else {
            let items = vec![Item::plain(wording::say("machine-unknown"))];
            let moves = self.which_machine().into_iter().collect();
            return self.axis("machine-axis", "axis-machine", items, moves);
        };
        let state = wording::term("appliance-state", appliance.state.word()).into_owned();
        let items = vec![Item::plain(wording::say_with("machine-stands", &[("state", state.into())]))];
        let mut moves = Vec::new();
        if appliance.state == ApplianceState::UnsafeDoNotUse && self.may("act_on_appliance") {
            let states = [ApplianceState::Up, ApplianceState::Degraded, ApplianceState::Down]
                .map(ApplianceState::word);
            let release = Move::new("release", self.to("release"), wording::say("machine-release"))
                .with("version", appliance.version)
                .with("appliance", appliance.id)
                .asking(Input::choice("state", "field-released-as", words_of("appliance-state", &states)))
                .asking(Input::line("reason", "field-release-reason", true));
            moves.push(release);
        }
        moves.extend(self.stop());
        moves.extend(self.which_machine());
        self.axis("machine-axis", "axis-machine", items, moves)
    }

    fn parts(&self) -> Axis {
        let mut items: Vec<Item> = self.file.part_lines.iter().map(|line| self.part(line)).collect();
        if items.is_empty() {
            items.push(Item::plain(wording::say("parts-none")));
        }
        let mut moves = Vec::new();
        if self.may("create_part_line") && !self.file.fitting.is_empty() {
            let parts = self.file.fitting.iter().map(|part| {
                let place = wording::term("position", part.position.as_str());
                let price = wording::decimal(part.unit_price.to_string());
                let label = format!("{}, {} ({place}), {price} {}", part.number, part.title, part.currency);
                (format!("{}:{}", part.id, part.position), label)
            });
            let add = Move::new("add-line", self.to("lines"), wording::say("parts-add"))
                .with("id", (self.next_id)())
                .asking(Input::choice("part", "field-part", parts))
                .asking(Input::choice("payer", "field-payer", words_of("payer", Payer::WORDS)));
            let add = add.asking(Input::line("quantity", "field-quantity", true).holding("1".to_owned()));
            moves.push(self.because_of(add));
        }
        self.axis("parts-axis", "axis-parts", items, moves)
    }

    /// Which finding a part is for, if there are any.
    fn because_of(&self, form: Move) -> Move {
        let is_fault = |finding: &&application::see_order::StandingFinding| {
            matches!(finding.finding.as_str(), "failed" | "degraded")
        };
        let findings: Vec<(String, String)> = self
            .file
            .findings
            .iter()
            .filter(is_fault)
            .map(|finding| {
                let place = wording::term("position", finding.position.as_str());
                let condition = wording::term("condition", finding.finding.as_str());
                (finding.id.to_string(), format!("{place}: {condition}"))
            })
            .collect();
        if findings.is_empty() {
            return form;
        }
        let none = (String::new(), wording::say("not-said"));
        form.asking(Input::choice("finding", "field-for-finding", std::iter::once(none).chain(findings)))
    }

    fn part(&self, line: &PartLine) -> Item {
        let promised = line.promised_on.filter(|_| line.state == PartLineState::Promised);
        let variables = [
            ("quantity", i64::from(line.quantity).into()),
            ("part", line.part_number.to_string().into()),
            (
                "place",
                line.position
                    .as_ref()
                    .map(|at| wording::term("position", at.as_str()))
                    .unwrap_or_default()
                    .into_owned()
                    .into(),
            ),
            ("state", wording::term("line-state", line.state.word()).into_owned().into()),
            ("payer", wording::term("payer", line.payer.word()).into_owned().into()),
            ("price", wording::decimal(line.unit_price.to_string()).into()),
            ("currency", line.currency.to_string().into()),
            ("day", promised.map(|day| when::day(day, self.file.now)).unwrap_or_default().into()),
            ("slips", (line.promises.len().saturating_sub(1)).into()),
        ];
        let key = if promised.is_some() { "parts-line-promised" } else { "parts-line" };
        let mut moves = if self.may("act_on_part_line") { self.line_steps(line) } else { Vec::new() };
        moves.extend(self.line_change(line));
        Item { text: wording::say_with(key, &variables), moves, ..Item::default() }
    }

    /// Who pays for it and, until it is quoted, how many.
    fn line_change(&self, line: &PartLine) -> Option<Move> {
        let is_settled = part_line_after(line.state, PartLineAction::Withdraw).is_none();
        if is_settled || !self.may("update_part_line") {
            return None;
        }
        let to = self.to(&format!("lines/{}/change", line.id));
        let payers = Input::choice("payer", "field-payer", words_of("payer", Payer::WORDS));
        let form = Move::new(format!("change-{}", line.id), to, wording::say("parts-change"))
            .with("version", line.version)
            .asking(payers.choosing(|payer| payer == line.payer.word()));
        if line.state != PartLineState::Identified {
            return Some(form);
        }
        let quantity = Input::line("quantity", "field-quantity", true).holding(line.quantity.to_string());
        Some(form.asking(quantity))
    }

    fn line_steps(&self, line: &PartLine) -> Vec<Move> {
        let is_possible = |action: &&PartLineAction| {
            **action != PartLineAction::Quote && part_line_after(line.state, **action).is_some()
        };
        let step = |action: &PartLineAction| {
            let word = action.word();
            let to = self.to(&format!("lines/{}/{word}", line.id));
            let form = Move::new(format!("{word}-{}", line.id), to, wording::term("line-action", word))
                .with("version", line.version);
            match action {
                PartLineAction::Promise => form.asking(Input::day("promised_on", "field-promised-on")),
                PartLineAction::Fit => form.asking(Input::line("serial", "field-part-serial", false)),
                _ => form,
            }
        };
        PartLineAction::ALL.iter().filter(is_possible).map(step).collect()
    }

    fn money(&self) -> Axis {
        let file = self.file;
        let mut items = Vec::new();
        let newest = file.quotes.last().map(|quote| quote.id);
        for quote in &file.quotes {
            let decided = file.approvals.iter().rfind(|approval| approval.quote == quote.id);
            let decision = decided.map_or_else(
                || wording::say("quote-open"),
                |approval| {
                    let decision = wording::term("decision", approval.decision.word()).into_owned();
                    let at = self.clock(approval.decided_at);
                    wording::say_with("quote-decided", &[("decision", decision.into()), ("at", at.into())])
                },
            );
            let variables = [
                ("number", quote.number.to_string().into()),
                ("total", wording::decimal(quote.total.to_string()).into()),
                ("currency", quote.currency.to_string().into()),
                ("at", self.clock(quote.made_at).into()),
                ("decision", decision.into()),
            ];
            let is_open = decided.is_none() && newest == Some(quote.id) && self.may("create_approval");
            let moves = if is_open { self.decisions(quote) } else { Vec::new() };
            items.push(Item {
                text: wording::say_with("quote-stands", &variables),
                moves,
                ..Item::default()
            });
        }
        items.extend(self.spending());
        if items.is_empty() {
            items.push(Item::plain(wording::say("money-none")));
        }
        let quotable = |line: &&PartLine| {
            matches!(line.state, PartLineState::Identified | PartLineState::Quoted)
                && line.payer == Payer::Customer
        };
        let quotable: Vec<&PartLine> = file.part_lines.iter().filter(quotable).collect();
        let mut moves = Vec::new();
        if !quotable.is_empty() && self.may("create_quote") {
            let label = wording::say_with("quote-make", &[("count", quotable.len().into())]);
            let form = Move::new("quote", self.to("quotes"), label).with("id", (self.next_id)());
            let lines: Vec<String> = quotable.iter().map(|line| line.id.to_string()).collect();
            let form = form.with("line", lines.join(" "));
            moves.push(form.asking(Input::day("valid_until", "field-valid-until")));
        }
        self.axis("money-axis", "axis-money", items, moves)
    }

    /// What is allowed without asking, and how much of it the customer's lines would spend.
    fn spending(&self) -> Option<Item> {
        let limit = self.file.order.spending_limit?;
        let lines = self.file.part_lines.iter().filter(|line| {
            line.payer == Payer::Customer
                && line.currency == limit.currency
                && line.state != PartLineState::Withdrawn
        });
        let sums: BTreeMap<_, _> =
            lines.map(|line| (line.id, line.unit_price.times(line.quantity))).collect();
        let spent =
            sums.into_values().flatten().map(|sum| sum.to_string().parse().unwrap_or(0.0)).sum::<f64>().abs();
        let allowed: f64 = limit.amount.to_string().parse().ok()?;
        let variables = [
            ("spent", wording::decimal(format!("{spent:.2}")).into()),
            ("limit", wording::decimal(limit.amount.to_string()).into()),
            ("currency", limit.currency.to_string().into()),
        ];
        let text = wording::say_with("money-limit", &variables);
        let tone = if spent > allowed { Tone::Bad } else { Tone::Good };
        let scale = Scale::of_spent(spent, allowed, tone, text.clone());
        Some(Item { text, scale, ..Item::default() })
    }

    fn decisions(&self, quote: &application::quote::Quote) -> Vec<Move> {
        let decision = |decision: &Decision| {
            let word = decision.word();
            let to = self.to(&format!("quotes/{}/{word}", quote.id));
            let form = Move::new(format!("{word}-{}", quote.id), to, wording::say(&format!("quote-{word}")))
                .with("id", (self.next_id)());
            match self.contact() {
                Some((id, name)) => {
                    let options = [(id, name), (String::new(), wording::say("somebody-else"))];
                    form.asking(Input::choice("contact", "field-decided-by", options))
                }
                None => form,
            }
        };
        Decision::ALL.iter().map(decision).collect()
    }

    fn waits(&self) -> Axis {
        let file = self.file;
        let open: Vec<_> = file.waits.iter().filter(|wait| wait.to_at.is_none()).collect();
        let mut items: Vec<Item> = open
            .iter()
            .map(|wait| {
                let variables = [
                    ("reason", wording::term("waiting", wait.reason.word()).into_owned().into()),
                    ("at", self.clock(wait.from_at).into()),
                    ("span", when::since(wait.from_at, file.now).into()),
                ];
                let key = if wait.pauses_clock { "wait-stands-paused" } else { "wait-stands" };
                let to = self.to(&format!("waits/{}/end", wait.id));
                let end = Move::new(format!("end-{}", wait.id), to, wording::say("wait-end"))
                    .with("version", wait.version);
                let moves = if self.may("act_on_waiting") { vec![end] } else { Vec::new() };
                Item { text: wording::say_with(key, &variables), moves, ..Item::default() }
            })
            .collect();
        if items.is_empty() {
            items.push(Item::plain(wording::say("wait-none")));
        }
        let free: Vec<&str> = WaitingReason::ALL
            .iter()
            .filter(|reason| open.iter().all(|wait| wait.reason != **reason))
            .map(|reason| reason.word())
            .collect();
        let mut moves = Vec::new();
        if !free.is_empty() && self.may("create_waiting") {
            let begin = Move::new("wait", self.to("waits"), wording::say("wait-begin"))
                .with("id", (self.next_id)())
                .asking(Input::choice("reason", "field-wait-reason", words_of("waiting", &free)))
                .asking(Input::tick("pauses_clock", "field-pauses-clock"));
            moves.push(begin);
        }
        self.axis("waits-axis", "axis-waits", items, moves)
    }
}

fn is_allowed(of: &PossibleMove) -> bool {
    of.missing.is_empty() && (of.outcomes.is_empty() || of.outcomes.iter().any(|now| now.missing.is_empty()))
}
