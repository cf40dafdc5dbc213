//! Parts, money and hands.

use domain::vocabulary::{Action as Act, Cause, Position};

use super::branch::Branch;
use super::job::{Progress, Stage, Task};
use crate::clock::{DAY, HOUR, MINUTE, Moment, timestamp};
use crate::defect::Defect;
use crate::history::{
    Action, Approval, Code, Entry, FittedPart, FittedPartRemoved, PartLine, PartLineMoved, PartMovement,
    Quote, WaitingEnded,
};
use crate::remedy::PartKind;

/// Up to here a technician may spend without asking, in hundredths.
pub(super) const SPENDING_LIMIT: i64 = 20_000;

impl Branch {
    /// Does what can be done now and returns what was mended.
    pub(super) fn mend(&mut self, now: &mut Moment, job: usize) -> Vec<Defect> {
        let mut mended = Vec::new();
        for index in 0..self.jobs[job].faults.len() {
            let fault = &self.jobs[job].faults[index];
            match fault.stage {
                Stage::Ready if fault.remedy.action == Act::Referred => {
                    let defect = fault.defect;
                    self.jobs[job].faults[index].stage = Stage::Referred;
                    self.act(*now, job, index);
                    self.refer(*now, self.units[self.jobs[job].unit].site, defect);
                }
                Stage::Ready if fault.remedy.part.is_some() && fault.part_line.is_none() => {
                    self.ask_for_part(now, job, index);
                }
                _ => {}
            }
            let fault = &self.jobs[job].faults[index];
            if matches!(fault.stage, Stage::Ready | Stage::PartSetAside) {
                *now += fault.remedy.minutes * MINUTE;
                mended.push(fault.defect);
                self.jobs[job].faults[index].stage = Stage::Done;
                self.act(*now, job, index);
            }
        }
        mended
    }

    fn payer(&self, job: usize, index: usize, at: Moment) -> Code {
        let unit = &self.units[self.jobs[job].unit];
        let fault = &self.jobs[job].faults[index];
        let consumable = fault.remedy.part.is_some_and(PartKind::is_consumable);
        let excluded = matches!(
            fault.defect.cause(),
            Cause::Limescale | Cause::Misuse | Cause::WaterQuality | Cause::Vermin | Cause::CleaningPractice
        );
        match () {
            () if at < unit.warranty_until && !consumable && !excluded => "warranty",
            () if self.sites[unit.site].has_contract => "contract",
            () => "customer",
        }
    }

    /// Names the part, asks who must be asked, and takes it from the van or orders it.
    fn ask_for_part(&mut self, now: &mut Moment, job: usize, index: usize) {
        let catalogue = self.catalogue.clone();
        let design = self.units[self.jobs[job].unit].design;
        let Some(part) = self.jobs[job].faults[index].part(&catalogue, design) else {
            // nothing is sold for it on this model: it is repaired in place
            self.jobs[job].faults[index].remedy.part = None;
            self.jobs[job].faults[index].remedy.action = Act::Repaired;
            return;
        };
        let payer = self.payer(job, index, *now);
        *now += MINUTE;
        let line = PartLine {
            id: self.new_id(*now),
            work_order: self.jobs[job].id,
            finding: self.jobs[job].faults[index].finding,
            part: part.id,
            part_number: part.number.clone(),
            position: part.position,
            quantity: 1,
            payer,
            price_hundredths: part.price_hundredths,
            currency: part.currency,
        };
        let (id, price) = (line.id, part.price_hundredths);
        self.jobs[job].faults[index].part_line = Some(id);
        let by = self.actor(job);
        self.emit(*now, by, Entry::PartLine(line));
        let asks = payer == "customer" && self.jobs[job].spent + price > SPENDING_LIMIT;
        if payer == "customer" {
            self.jobs[job].spent += price;
        }
        if asks {
            let quote = self.quote(*now, job, index, price);
            if !self.random.chance(0.7) {
                self.jobs[job].faults[index].stage = Stage::AwaitsApproval;
                let hours = 4 + self.random.whole(80);
                self.jobs[job].open_quotes.push((quote, index));
                self.schedule(*now + hours * HOUR, Task::Approval { job });
                return;
            }
            *now += 10 * MINUTE;
            if !self.approve(*now, job, index, quote) {
                return;
            }
        } else {
            self.move_line(*now, job, index, "approved", None);
        }
        self.fetch(*now, job, index);
    }

    fn quote(&mut self, at: Moment, job: usize, index: usize, amount: i64) -> domain::id::QuoteId {
        self.jobs[job].quotes += 1;
        let quote = Quote {
            id: self.new_id(at),
            work_order: self.jobs[job].id,
            number: self.jobs[job].quotes,
            part_lines: self.jobs[job].faults[index].part_line.into_iter().collect(),
            amount_hundredths: amount,
            currency: super::catalogue::CURRENCY,
        };
        let id = quote.id;
        // prices are the office's
        let dispatcher = self.dispatcher;
        self.emit(at, dispatcher, Entry::Quote(quote));
        self.move_line(at, job, index, "quoted", None);
        id
    }

    /// The customer decides; `false` if he declines.
    fn approve(&mut self, at: Moment, job: usize, index: usize, quote: domain::id::QuoteId) -> bool {
        let approved = !self.random.chance(0.04);
        let approval = Approval {
            id: self.new_id(at),
            quote,
            work_order: self.jobs[job].id,
            approved,
            approved_by: self.jobs[job].contact,
        };
        let by = self.actor(job);
        self.emit(at, by, Entry::Approval(approval));
        if approved {
            self.move_line(at, job, index, "approved", None);
        } else {
            self.jobs[job].faults[index].stage = Stage::Declined;
            self.move_line(at, job, index, "withdrawn", None);
        }
        approved
    }

    fn move_line(&mut self, at: Moment, job: usize, index: usize, to: Code, promised_for: Option<Moment>) {
        if let Some(part_line) = self.jobs[job].faults[index].part_line {
            let work_order = self.jobs[job].id;
            let promised_for = promised_for.map(timestamp);
            let by = self.actor(job);
            self.emit(
                at,
                by,
                Entry::PartLineMoved(PartLineMoved { part_line, work_order, to, promised_for }),
            );
        }
    }

    /// From the van if it is there, else from the supplier.
    fn fetch(&mut self, at: Moment, job: usize, index: usize) {
        let Some(kind) = self.jobs[job].faults[index].remedy.part else { return };
        if self.jobs[job].visit.is_some() && self.random.chance(kind.on_van()) {
            self.move_line(at, job, index, "set_aside", None);
            self.jobs[job].faults[index].stage = Stage::PartSetAside;
            return;
        }
        let days = (kind.supply_days() * self.random.factor(0.5)).clamp(1.0, 60.0);
        let due = at + (days * DAY as f64) as i64 / HOUR * HOUR;
        self.move_line(at + 10 * MINUTE, job, index, "ordered", None);
        self.move_line(at + 11 * MINUTE, job, index, "promised", Some(due));
        self.jobs[job].faults[index].stage = Stage::AwaitsPart;
        let late = if self.random.chance(0.15) { self.random.whole(6) * DAY } else { 0 };
        let due = due + late;
        // goods come in the morning
        let due = crate::clock::day_of(due) * DAY + 8 * HOUR + DAY;
        let soonest = self.jobs[job].parts_due.unwrap_or(0);
        self.jobs[job].parts_due = Some(due.max(soonest));
        self.schedule(due.max(soonest), Task::Parts { job });
    }

    pub(super) fn approval_comes(&mut self, at: Moment, job: usize) {
        if self.jobs[job].progress == Progress::Closed {
            return;
        }
        for (quote, index) in std::mem::take(&mut self.jobs[job].open_quotes) {
            if self.approve(at, job, index, quote) {
                self.fetch(at, job, index);
            }
        }
        if !self.jobs[job].awaits(Stage::AwaitsPart) {
            let declined_all =
                !self.jobs[job].awaits(Stage::Done) && !self.jobs[job].awaits(Stage::PartSetAside);
            self.end_waiting(at, job);
            if declined_all {
                self.close(at + MINUTE, job, "declined", None);
            } else {
                self.plan_visit(at + HOUR, job, at + 20 * HOUR);
            }
        }
    }

    pub(super) fn parts_come(&mut self, at: Moment, job: usize) {
        if self.jobs[job].progress == Progress::Closed || self.jobs[job].parts_due.is_none_or(|due| due > at)
        {
            return;
        }
        self.jobs[job].parts_due = None;
        for index in 0..self.jobs[job].faults.len() {
            if self.jobs[job].faults[index].stage == Stage::AwaitsPart {
                self.move_line(at, job, index, "received", None);
                self.move_line(at + 20 * MINUTE, job, index, "set_aside", None);
                self.jobs[job].faults[index].stage = Stage::PartSetAside;
                self.stock_in(at, job, index);
            }
        }
        if self.jobs[job].awaits(Stage::AwaitsApproval) {
            return;
        }
        self.end_waiting(at + 20 * MINUTE, job);
        self.plan_visit(at + 30 * MINUTE, job, at + 4 * HOUR);
    }

    fn end_waiting(&mut self, at: Moment, job: usize) {
        if let Some(id) = self.jobs[job].waiting.take() {
            let work_order = self.jobs[job].id;
            let dispatcher = self.dispatcher;
            self.emit(at, dispatcher, Entry::WaitingEnded(WaitingEnded { id, work_order }));
        }
    }

    fn stock_in(&mut self, at: Moment, job: usize, index: usize) {
        let catalogue = self.catalogue.clone();
        let fault = &self.jobs[job].faults[index];
        let Some(part) = fault.part(&catalogue, self.units[self.jobs[job].unit].design) else { return };
        let part_line = fault.part_line;
        let to = Some(self.technicians[self.jobs[job].technician].van);
        let id = self.new_id(at);
        let entry = PartMovement { id, part: part.id, from: Some(self.depot), to, quantity: 1, part_line };
        let dispatcher = self.dispatcher;
        self.emit(at, dispatcher, Entry::PartMovement(entry));
    }

    /// The deed itself, as it is recorded and as the machine feels it.
    fn act(&mut self, at: Moment, job: usize, index: usize) {
        let fault = &self.jobs[job].faults[index];
        let (defect, remedy, part_line) = (fault.defect, fault.remedy, fault.part_line);
        let unit = self.jobs[job].unit;
        let position = self.units[unit].machine.design.place_of(defect);
        let fitted = part_line.is_some() && remedy.part.is_some();
        if fitted {
            self.move_line(at, job, index, "fitted", None);
            self.fit(at, job, index);
        }
        let action = Action {
            id: self.new_id(at),
            work_order: self.jobs[job].id,
            position: position.key(),
            action: remedy.action.key(),
            part_line: part_line.filter(|_| fitted),
            taken_at: timestamp(at),
            expires_at: None,
        };
        let by = self.actor(job);
        self.emit(at, by, Entry::Action(action));
        self.jobs[job].epoch += u32::from(remedy.action.changes_the_machine());
        if remedy.action == Act::Referred {
            return;
        }
        let site = self.units[unit].site;
        if defect.is_of_the_kitchen() {
            let left = self.sites[site].kitchen.building[defect] * remedy.leaves;
            self.sites[site].kitchen.building.set(defect, left);
        }
        let renewed = renewed_by(defect, remedy.part);
        let unit = &mut self.units[unit];
        for &defect in renewed {
            let left = unit.severities[defect] * remedy.leaves;
            unit.severities.set(defect, left);
            if remedy.part.is_some() {
                unit.machine.renew(defect, &mut self.random);
                unit.pace.renew(defect, &mut self.random);
            }
        }
        if self.random.chance(self.technicians[self.jobs[job].technician].habits.clumsiness) {
            let slip = *self.random.pick(&[
                Defect::StrainerMisfitted,
                Defect::StrainerMisfitted,
                Defect::GasketMisfitted,
                Defect::Intermittent,
                Defect::SprayBlocked,
            ]);
            if unit_may_have(&self.units[self.jobs[job].unit], slip) {
                let how_bad = self.random.between(0.5, 1.0);
                self.units[self.jobs[job].unit].severities.set(slip, how_bad);
            }
        }
        let unit = self.jobs[job].unit;
        self.look(unit);
    }

    /// Puts the part in its own place, which need not be where the fault was felt.
    fn fit(&mut self, at: Moment, job: usize, index: usize) {
        let catalogue = self.catalogue.clone();
        let unit = self.jobs[job].unit;
        let fault = &self.jobs[job].faults[index];
        let Some(part) = fault.part(&catalogue, self.units[unit].design) else { return };
        let Ok(position) = part.position.parse::<Position>() else { return };
        let part_line = fault.part_line;
        let technician = &self.technicians[self.jobs[job].technician];
        let (by, van) = (technician.id, technician.van);
        let (moved, id) = (self.new_id(at), self.new_id(at));
        let movement =
            PartMovement { id: moved, part: part.id, from: Some(van), to: None, quantity: 1, part_line };
        self.emit(at, by, Entry::PartMovement(movement));
        if let Some(old) = self.units[unit].fitted.insert(position, id) {
            let removed = FittedPartRemoved { id: old, removed_at: timestamp(at) };
            self.emit(at, by, Entry::FittedPartRemoved(removed));
        }
        let fitted = FittedPart {
            id,
            appliance: self.units[unit].id,
            position: position.key(),
            part: part.id,
            serial: None,
            fitted_at: timestamp(at),
            part_line,
        };
        self.emit(at, by, Entry::FittedPart(fitted));
    }
}

fn unit_may_have(unit: &super::site::Unit, defect: Defect) -> bool {
    unit.machine.design.may_have(defect)
}

/// What else is new when that part is new.
fn renewed_by(defect: Defect, part: Option<PartKind>) -> &'static [Defect] {
    use Defect as D;
    match part {
        Some(PartKind::FillValve) => {
            &[D::FillValveWeak, D::FillValveCoilOpen, D::FillValvePasses, D::FillValveSticks]
        }
        Some(PartKind::Mesh) => &[D::InletStrainerClogged, D::StrainerMisfitted],
        Some(PartKind::PumpHead) => &[D::WashPumpFades, D::WashPumpClogged],
        Some(PartKind::DrainPump) => &[D::DrainPumpDead, D::DrainPumpClogged],
        Some(PartKind::DoorSwitch) => &[D::DoorSwitchFails, D::DoorSwitchSticks, D::DoorMagnet],
        Some(PartKind::Board) => &[D::OutputDead, D::BoardWet],
        Some(PartKind::Loom) => &[D::WiringCorroded, D::VerminDamage, D::Intermittent],
        Some(PartKind::Element) => &[D::ElementOpen, D::InsulationLow, D::InsulationDamp],
        Some(PartKind::Gasket) => &[D::GasketTorn, D::GasketMisfitted],
        Some(PartKind::HoseSet) => &[D::HoseLeaks, D::HoseDrawsAir],
        _ => just(defect),
    }
}

fn just(defect: Defect) -> &'static [Defect] {
    std::slice::from_ref(&Defect::ALL[defect as usize])
}
