//! What an order is: changed by the office, put right when it was about another machine, let pass without a proof.

use domain::danger::Danger;
use domain::procedure::LONGEST_DEFEAT_MINUTES;
use domain::work::{Urgency, Waived, WaiverCode};

use super::found::labelled;
use super::{Axis, Item, Maker};
use crate::day::defeats;
use crate::parts::moves::{Input, Move, words_of};

impl Maker<'_> {
    /// Urgency, symptoms and what may be spent.
    pub(super) fn change(&self) -> Option<Move> {
        // Of an order a technician says which machine it is, and no more.
        if !self.may("create_work_order") {
            return None;
        }
        let order = &self.file.order;
        let urgencies = words_of("urgency", Urgency::WORDS);
        let symptoms = self.file.choices.symptoms.iter();
        let symptoms = symptoms.map(|key| (key.clone(), wording::term("symptom", key).into_owned()));
        let limit = order.spending_limit;
        let amount = limit.map(|limit| wording::decimal(limit.amount.to_string())).unwrap_or_default();
        let currency = limit.map_or_else(|| "EUR".to_owned(), |limit| limit.currency.to_string());
        let form = Move::new("change", self.to("change"), wording::say("order-change"))
            .with("version", order.version)
            .asking(
                Input::choice("urgency", "call-urgency", urgencies).choosing(|of| of == order.urgency.word()),
            )
            .asking(
                Input::several("symptom", "field-symptoms", symptoms)
                    .choosing(|of| order.symptoms.iter().any(|symptom| symptom.as_str() == of)),
            )
            .asking(Input::line("limit", "call-limit", false).holding(amount))
            .asking(Input::line("currency", "call-currency", false).holding(currency));
        Some(form)
    }

    /// What the order does without, as somebody of the management says.
    pub(super) fn waiver(&self) -> Option<Move> {
        if !self.may("create_waiver") {
            return None;
        }
        let form = Move::new("waive", self.to("waivers"), wording::say("waiver-give"))
            .with("id", (self.next_id)())
            .asking(Input::choice("what", "field-waived", words_of("waived", Waived::WORDS)))
            .asking(Input::choice("code", "field-waiver-code", words_of("waiver-code", WaiverCode::WORDS)))
            .asking(Input::line("reason", "field-waiver-reason", true));
        Some(form)
    }

    pub(super) fn waivers(&self) -> Vec<Item> {
        let waivers = self.file.waivers.iter().map(|waiver| {
            let variables = [
                ("what", wording::term("waived", waiver.what.word()).into_owned().into()),
                ("code", wording::term("waiver-code", waiver.code.word()).into_owned().into()),
                ("reason", waiver.reason.to_string().into()),
                ("who", self.names(&[waiver.given_by]).into()),
                ("at", self.clock(waiver.given_at).into()),
            ];
            Item::plain(wording::say_with("waiver-stands", &variables))
        });
        waivers.collect()
    }

    /// Which machine it is: said first, or put right when it was said wrongly.
    pub(super) fn which_machine(&self) -> Option<Move> {
        let known = self.file.appliance.as_ref().map(|appliance| appliance.id);
        let others = self.file.machines.iter().filter(|machine| Some(machine.id) != known);
        let others: Vec<(String, String)> = others
            .map(|machine| {
                let label = match &machine.serial {
                    Some(serial) => format!("{}, {serial}", machine.position_label),
                    None => machine.position_label.to_string(),
                };
                (machine.id.to_string(), label)
            })
            .collect();
        if others.is_empty() {
            return None;
        }
        let which = Input::choice("machine", "call-machine", others);
        if known.is_none() {
            let confirm = Move::new("machine", self.to("machine"), wording::say("machine-confirm"));
            let confirm = confirm.with("version", self.file.order.version).asking(which);
            return Some(confirm).filter(|_| self.may("update_work_order"));
        }
        let correct = Move::new("other-machine", self.to("other-machine"), wording::say("machine-correct"))
            .with("id", (self.next_id)())
            .asking(which)
            .asking(Input::line("why", "field-machine-why", true));
        Some(correct).filter(|_| self.may("create_machine_correction"))
    }

    /// Nobody may use it: said by whoever sees a danger.
    pub(super) fn stop(&self) -> Option<Move> {
        let appliance = self.file.appliance.as_ref().filter(|_| self.may("create_stop"))?;
        let dangers = Danger::ALL.iter().map(|danger| labelled("danger", danger.word()));
        let stop = Move::new("stop", self.to("stops"), wording::say("machine-stop"))
            .with("id", (self.next_id)())
            .with("appliance", appliance.id)
            .asking(Input::several("danger", "call-dangers", dangers))
            .asking(Input::line("why", "field-stop-why", true));
        Some(stop)
    }

    /// Protections that are taken away while something is tried.
    pub fn protection(&self) -> Axis {
        let may_remove = self.may("act_on_interlock_defeat");
        let mut items: Vec<Item> = Vec::new();
        for defeat in &self.file.defeats {
            let Some(removed_at) = defeat.removed_at else {
                let view = defeats::view(self.file, &self.at, defeat);
                let form = Move::new("remove", view.remove, wording::say("defeat-remove"));
                let moves = if may_remove { vec![form] } else { Vec::new() };
                items.push(Item { text: view.text, is_bad: true, moves, ..Item::default() });
                continue;
            };
            let variables = [
                ("from", self.clock(defeat.opened_at).into()),
                ("to", self.clock(removed_at).into()),
                ("who", self.names(&[defeat.opened_by]).into()),
            ];
            items.push(Item::plain(wording::say_with("defeat-was", &variables)));
        }
        if items.is_empty() {
            items.push(Item::plain(wording::say("defeat-none")));
        }
        let is_open = self.file.defeats.iter().any(|defeat| defeat.removed_at.is_none());
        let mut moves = Vec::new();
        if !is_open && self.file.appliance.is_some() && self.may("create_interlock_defeat") {
            let label = wording::say("defeat-record");
            let form = Move::new("defeat", self.to("defeats"), label).with("id", (self.next_id)());
            moves.push(defeats::asking(form, self.file, LONGEST_DEFEAT_MINUTES));
        }
        self.axis("protection-axis", "axis-protection", items, moves)
    }
}
