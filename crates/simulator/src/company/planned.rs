//! The yearly service.

use domain::evidence::Phase;

use super::branch::Branch;
use super::job::{Job, Task};
use crate::bench::Test;
use crate::clock::{DAY, HOUR, MINUTE, Moment};
use crate::defect::Defect;
use crate::history::{Action, Entry, WorkOrder};

impl Branch {
    pub(super) fn plan_service(&mut self, at: Moment, site: usize) {
        let year = 330 + self.random.whole(70);
        self.schedule(at + year * DAY, Task::PlanService { site });
        let contact = self.sites[site].contacts[0].clone();
        for unit in self.sites[site].units.clone() {
            let id = self.new_id(at);
            let order = WorkOrder {
                id,
                site: self.sites[site].id,
                call: None,
                appliance: Some(self.units[unit].id),
                work: "planned",
                urgency: "planned",
                symptoms: Vec::new(),
                spending_limit_hundredths: super::repair::SPENDING_LIMIT,
                follows: None,
            };
            let dispatcher = self.dispatcher;
            self.emit(at, dispatcher, Entry::WorkOrder(order));
            let mut job = Job::new(id, unit, contact.clone(), site % self.technicians.len());
            job.planned_work = true;
            let index = self.jobs.len();
            self.jobs.push(job);
            self.move_order(at + MINUTE, index, "assessed");
            let in_days = 5 * DAY + self.random.whole(240) * HOUR;
            self.plan_visit(at + 2 * MINUTE, index, at + in_days);
        }
    }

    /// Tests what matters and cleans what fouls.
    pub(super) fn service(&mut self, now: &mut Moment, job: usize) {
        const USUAL: [Test; 8] = [
            Test::SealAndBufferLook,
            Test::DoorSwitch,
            Test::InletPressure,
            Test::StrainerLook,
            Test::FillTime,
            Test::WashFlowHold,
            Test::DrainTime,
            Test::WaterQuality,
        ];
        let share = self.settings.thoroughness;
        for test in USUAL {
            if matches!(test, Test::FillTime | Test::InletPressure | Test::WashFlowHold)
                || self.random.chance(share)
            {
                self.test(now, job, test, Phase::BeforeRepair);
            }
        }
        *now += 20 * MINUTE;
        let unit = self.jobs[job].unit;
        for (defect, leaves) in [
            (Defect::InletStrainerClogged, 0.1),
            (Defect::WashPumpClogged, 0.5),
            (Defect::SprayBlocked, 0.3),
            (Defect::DrainPumpClogged, 0.4),
            (Defect::SumpSeatLeaks, 0.5),
            (Defect::SteamGeneratorScaled, 0.5),
            (Defect::LevelSensorFouled, 0.5),
            (Defect::RestrictorScaled, 0.5),
        ] {
            let severity = self.units[unit].severities[defect];
            // what is plainly a fault is left to be found, named and mended as one
            if severity < Defect::NOTICEABLE {
                self.units[unit].severities.set(defect, severity * leaves);
            }
        }
        let position = self.units[unit].machine.design.place_of(Defect::InletStrainerClogged);
        let action = Action {
            id: self.new_id(*now),
            work_order: self.jobs[job].id,
            position: position.key(),
            action: domain::vocabulary::Action::Cleaned.key(),
            part_line: None,
            taken_at: crate::clock::timestamp(*now),
            expires_at: None,
        };
        let by = self.actor(job);
        self.emit(*now, by, Entry::Action(action));
        self.jobs[job].epoch += 1;
        self.look(unit);
    }
}
