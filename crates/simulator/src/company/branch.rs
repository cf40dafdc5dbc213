use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::sync::Arc;

use domain::id::{BranchId, PersonId, StoreId};

use super::job::{Job, Task};
use super::site::{Site, Technician, Unit};
use super::{Catalogue, Settings};
use crate::ageing::{self, Stress};
use crate::clock::{DAY, HOUR, MINUTE, Moment, day_of, moment, timestamp, weekday};
use crate::defect::Defect;
use crate::history::{Dated, Entry};
use crate::random::Random;
use crate::truth::CallTruth;

/// Days between two steps of ageing.
const STEP_DAYS: i64 = 3;

/// A branch that lives one day at a time.
pub struct Branch {
    pub(super) settings: Arc<Settings>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) random: Random,
    pub(super) index: usize,
    pub(super) id: BranchId,
    pub(super) dispatcher: PersonId,
    pub(super) depot: StoreId,
    pub(super) technicians: Vec<Technician>,
    pub(super) sites: Vec<Site>,
    pub(super) units: Vec<Unit>,
    pub(super) jobs: Vec<Job>,
    agenda: BinaryHeap<Reverse<(Moment, u64, Task)>>,
    scheduled: u64,
    /// Visits planned, by day and technician.
    calendar: BTreeMap<(i64, usize), u8>,
    day: i64,
    last_day: i64,
    entries: Vec<Dated>,
    pub(super) truths: Vec<CallTruth>,
}

impl Branch {
    pub(super) fn new(settings: Arc<Settings>, catalogue: Arc<Catalogue>, index: usize) -> Self {
        let mut random = Random::new(settings.seed, index as u64);
        let (start, day) = (settings.start, day_of(moment(settings.start)));
        let last_day = day + i64::from(settings.days) - 1;
        let (id, dispatcher, depot) = (random.id(start), random.id(start), random.id(start));
        let mut branch = Self {
            settings,
            catalogue,
            random,
            index,
            id,
            dispatcher,
            depot,
            technicians: Vec::new(),
            sites: Vec::new(),
            units: Vec::new(),
            jobs: Vec::new(),
            agenda: BinaryHeap::new(),
            scheduled: 0,
            calendar: BTreeMap::new(),
            day,
            last_day,
            entries: Vec::new(),
            truths: Vec::new(),
        };
        branch.set_up();
        branch
    }

    /// The day that comes next, in days since 1970.
    pub fn day(&self) -> i64 {
        self.day
    }

    /// The entries of the next day in the order of time; `None` after the last day.
    pub fn next_day(&mut self) -> Option<Vec<Dated>> {
        if self.day > self.last_day {
            return None;
        }
        self.buildings_age();
        self.machines_age();
        self.cooks_call();
        let end = (self.day + 1) * DAY;
        while let Some(Reverse((at, _, task))) = self.agenda.peek().copied().filter(|due| due.0.0 < end) {
            self.agenda.pop();
            self.perform(at, task);
        }
        self.day += 1;
        self.calendar = self.calendar.split_off(&(self.day, 0));
        let mut entries = std::mem::take(&mut self.entries);
        entries.sort_by_key(|dated| dated.at);
        Some(entries)
    }

    /// What was truly wrong at the calls of the days run so far; each is given once.
    pub fn take_truths(&mut self) -> Vec<CallTruth> {
        std::mem::take(&mut self.truths)
    }

    /// Severity by severity, how one machine of the branch stands; for charts of its life.
    pub fn severity(&self, unit: usize, defect: Defect) -> f64 {
        self.units[unit].severities[defect]
    }

    pub fn machines(&self) -> impl Iterator<Item = domain::id::ApplianceId> + '_ {
        self.units.iter().map(|unit| unit.id)
    }

    fn perform(&mut self, at: Moment, task: Task) {
        match task {
            Task::Call { unit } => self.call(at, unit),
            Task::Visit { job } => self.visit(at, job),
            Task::Approval { job } => self.approval_comes(at, job),
            Task::Parts { job } => self.parts_come(at, job),
            Task::PlanService { site } => self.plan_service(at, site),
            Task::Restore { site, defect } => self.restore(site, defect),
            Task::Water { site } => self.sample_water(at, site),
        }
    }

    pub(super) fn emit(&mut self, at: Moment, by: PersonId, entry: Entry) {
        self.entries.push(Dated { at: timestamp(at), by: Some(by), entry });
    }

    pub(super) fn schedule(&mut self, at: Moment, task: Task) {
        self.scheduled += 1;
        self.agenda.push(Reverse((at, self.scheduled, task)));
    }

    pub(super) fn new_id<Id: TryFrom<uuid::Uuid>>(&mut self, at: Moment) -> Id {
        self.random.id(timestamp(at))
    }

    /// The first free time of a technician from that day on, on working days unless it is urgent.
    pub(super) fn book(&mut self, from: Moment, preferred: usize, urgent: bool) -> (Moment, usize) {
        const BEGINS: [Moment; 3] = [7 * HOUR + 30 * MINUTE, 11 * HOUR, 14 * HOUR + 30 * MINUTE];
        let people = self.technicians.len();
        let mut day = day_of(from);
        loop {
            if urgent || weekday(day) < 5 {
                for offset in 0..people {
                    let technician = (preferred + offset) % people;
                    let taken = self.calendar.entry((day, technician)).or_insert(0);
                    // a slot that has gone by today is lost
                    while usize::from(*taken) < BEGINS.len() {
                        let at = day * DAY + BEGINS[usize::from(*taken)];
                        *taken += 1;
                        if at >= from {
                            return (at + self.random.whole(25) * MINUTE, technician);
                        }
                    }
                }
            }
            day += 1;
        }
    }

    pub(super) fn look(&mut self, unit: usize) {
        let site = self.units[unit].site;
        self.units[unit].look(&self.sites[site].kitchen);
    }

    fn buildings_age(&mut self) {
        if self.day % STEP_DAYS != 0 {
            return;
        }
        for site in 0..self.sites.len() {
            let dirt = self.sites[site].kitchen.age(STEP_DAYS as f64, &mut self.random);
            for unit in self.sites[site].units.clone() {
                if let Some(dirt) = dirt {
                    let share = self.random.between(0.3, 1.0);
                    let severities = &mut self.units[unit].severities;
                    severities.add(Defect::InletStrainerClogged, dirt * share);
                    severities.add(
                        Defect::FillValvePasses,
                        0.3 * dirt * share * severities[Defect::StrainerMisfitted],
                    );
                }
            }
        }
    }

    fn machines_age(&mut self) {
        for index in 0..self.units.len() {
            if !(self.day.unsigned_abs() + index as u64).is_multiple_of(STEP_DAYS as u64) {
                continue;
            }
            let now = self.day * DAY;
            let unit = &mut self.units[index];
            let kitchen = &self.sites[unit.site].kitchen;
            let stress = Stress::of(kitchen, unit.age_years(now), unit.filled);
            let design = unit.machine.design.clone();
            let (severities, pace) = (&mut unit.severities, &unit.pace);
            ageing::age(severities, pace, &design, &stress, STEP_DAYS as f64, &mut self.random);
            unit.look(kitchen);
        }
    }

    fn cooks_call(&mut self) {
        for index in 0..self.units.len() {
            let unit = &mut self.units[index];
            let kind = self.sites[unit.site].kitchen.kind;
            if unit.open_job.is_some() || !kind.open_on(weekday(self.day)) {
                continue;
            }
            unit.patience -= unit.annoyance_a_day;
            if unit.patience <= 0.0 {
                unit.patience = self.random.exponential();
                let at = self.day * DAY + 7 * HOUR + self.random.whole(11 * 60) * MINUTE;
                self.schedule(at, Task::Call { unit: index });
            }
        }
    }

    fn restore(&mut self, site: usize, defect: Defect) {
        self.sites[site].kitchen.restores(defect, &mut self.random);
        self.sites[site].referred = false;
        for unit in self.sites[site].units.clone() {
            self.look(unit);
        }
    }
}
