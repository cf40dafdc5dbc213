//! Runs a company and prints, as a page of Markdown, the facts of the trade that come out of it beside those
//! expected. "Expected" is common practice without a source. `scripts/facts` keeps the page in crates/simulator/report.
//!
//!     cargo run --release --example facts -p simulator -- --kitchens 1000 --days 730

use std::collections::BTreeMap;

use clap::Parser;
use domain::id::WorkOrderId;
use indicatif::ProgressBar;
use simulator::bench::Test;
use simulator::company::{Company, InvalidSettings, Settings, Totals};
use simulator::defect::{Defect, Severities};
use simulator::history::Entry;
use simulator::truth::CallTruth;

#[derive(Parser)]
struct Arguments {
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[arg(long, default_value_t = 1000)]
    kitchens: usize,
    #[arg(long, default_value_t = 730)]
    days: u32,
    #[arg(long, default_value_t = 1.0)]
    thoroughness: f64,
    #[arg(long, default_value_t = 1.0)]
    written_down: f64,
}

/// Relative weight among calls, common practice without a source; they sum to about 118.
const EXPECTED: [(Defect, f64); 46] = [
    (Defect::ChemicalWrong, 8.0),
    (Defect::Misuse, 7.0),
    (Defect::SupplyPressureLow, 3.0),
    (Defect::SupplyValvePartShut, 2.0),
    (Defect::TreatmentExhausted, 3.0),
    (Defect::InletStrainerClogged, 10.0),
    (Defect::StrainerMisfitted, 2.0),
    (Defect::FillValveWeak, 7.0),
    (Defect::FillValveCoilOpen, 3.0),
    (Defect::FillValvePasses, 2.0),
    (Defect::RestrictorScaled, 3.0),
    (Defect::WashPumpClogged, 9.0),
    (Defect::WashPumpFades, 4.0),
    (Defect::WashMotorDead, 4.0),
    (Defect::RunCapacitorWeak, 3.0),
    (Defect::SprayBlocked, 3.0),
    (Defect::DrainPumpClogged, 6.0),
    (Defect::DrainPumpDead, 3.0),
    (Defect::BuildingDrainBlocked, 5.0),
    (Defect::SumpSeatLeaks, 3.0),
    (Defect::DoorSwitchFails, 2.7),
    (Defect::DoorSwitchSticks, 0.3),
    (Defect::GasketTorn, 3.0),
    (Defect::DoorSags, 1.0),
    (Defect::SteamGeneratorScaled, 2.5),
    (Defect::ElementOpen, 1.5),
    (Defect::ProbeDrifted, 1.0),
    (Defect::DosingWeak, 3.0),
    (Defect::RinseFails, 1.0),
    (Defect::LevelSensorFouled, 2.0),
    (Defect::OutputDead, 1.5),
    (Defect::WiringCorroded, 2.0),
    (Defect::BoardWet, 1.5),
    (Defect::SupplyVoltageLow, 0.5),
    (Defect::VerminDamage, 0.5),
    (Defect::InsulationLow, 1.0),
    (Defect::Intermittent, 4.0),
    (Defect::FillValveSticks, 3.5),
    (Defect::ValveStrainerClogged, 5.9),
    (Defect::GasketMisfitted, 1.2),
    (Defect::HoseLeaks, 2.4),
    (Defect::DrainHoseBlocked, 1.6),
    (Defect::HoseDrawsAir, 0.9),
    (Defect::CutOutOpens, 1.2),
    (Defect::DoorMagnet, 4.7),
    (Defect::InsulationDamp, 1.2),
];

/// What water passes on its way into the sump.
const ON_THE_WAY_IN: [Defect; 14] = [
    Defect::FillValveSticks,
    Defect::ValveStrainerClogged,
    Defect::RestrictorScaled,
    Defect::SupplyPressureLow,
    Defect::SupplyValvePartShut,
    Defect::TreatmentExhausted,
    Defect::InletStrainerClogged,
    Defect::StrainerMisfitted,
    Defect::FillValveWeak,
    Defect::FillValveCoilOpen,
    Defect::OutputDead,
    Defect::LevelSensorFouled,
    Defect::SumpSeatLeaks,
    Defect::SupplyVoltageLow,
];

/// Calls of one model, or of all.
#[derive(Default)]
struct Calls {
    all: u32,
    with_several: u32,
    with_none: u32,
    /// How often, and the sum of the severities.
    by_defect: BTreeMap<Defect, (u32, f64)>,
}

impl Calls {
    fn learn(&mut self, severities: &Severities) {
        let faults: Vec<_> = severities.noticeable().collect();
        self.all += 1;
        self.with_several += u32::from(faults.len() > 1);
        self.with_none += u32::from(faults.is_empty());
        for fault in faults {
            let entry = self.by_defect.entry(fault).or_default();
            entry.0 += 1;
            entry.1 += severities[fault];
        }
    }

    fn faults(&self) -> u32 {
        self.by_defect.values().map(|(count, _)| count).sum()
    }

    fn of(&self, defect: Defect) -> u32 {
        self.by_defect.get(&defect).map_or(0, |(count, _)| *count)
    }

    /// As a weight beside those expected: of all faults found, on the scale of the expected sum.
    fn weight(&self, defect: Defect) -> f64 {
        let expected: f64 = EXPECTED.iter().map(|(_, weight)| weight).sum();
        expected * f64::from(self.of(defect)) / f64::from(self.faults().max(1))
    }

    fn severity(&self, defect: Defect) -> f64 {
        self.by_defect.get(&defect).map_or(f64::NAN, |(count, sum)| sum / f64::from(*count))
    }
}

fn percent(part: u32, whole: u32) -> f64 {
    100.0 * f64::from(part) / f64::from(whole.max(1))
}

#[derive(Default)]
struct Facts {
    totals: Totals,
    calls: Calls,
    by_model: BTreeMap<&'static str, Calls>,
    visits: u32,
    work: BTreeMap<WorkOrderId, &'static str>,
    outcomes: BTreeMap<(&'static str, &'static str), u32>,
    symptoms: BTreeMap<&'static str, u32>,
    actions: BTreeMap<&'static str, u32>,
    healthy_fills_s: Vec<f64>,
}

impl Facts {
    fn learn_truth(&mut self, truth: &CallTruth) {
        self.calls.learn(&truth.severities);
        self.by_model.entry(truth.model).or_default().learn(&truth.severities);
        let nothing_in_the_way = ON_THE_WAY_IN.iter().all(|defect| truth.severities[*defect] < 0.15);
        if truth.model == "demo_combi" && nothing_in_the_way {
            for taken in truth.checklist.iter().filter(|taken| taken.test == Test::FillTime) {
                let value = taken.readings.first().and_then(|reading| reading.value.as_ref());
                let timed = value.filter(|value| value.censored.is_none());
                self.healthy_fills_s.extend(timed.map(|timed| timed.as_read.value));
            }
        }
    }

    fn learn(&mut self, entry: &Entry) {
        self.totals.count(entry);
        match entry {
            Entry::WorkOrder(order) => {
                self.work.insert(order.id, order.work);
                for symptom in &order.symptoms {
                    *self.symptoms.entry(symptom).or_default() += 1;
                }
            }
            Entry::Closed(closed) => {
                let work = self.work.remove(&closed.work_order).unwrap_or("?");
                *self.outcomes.entry((work, closed.outcome)).or_default() += 1;
            }
            Entry::VisitPlanned(_) => self.visits += 1,
            Entry::Action(action) => *self.actions.entry(action.action).or_default() += 1,
            _ => {}
        }
    }

    fn print(mut self, arguments: &Arguments) {
        let Arguments { seed, kitchens, days, .. } = arguments;
        let machines = self.totals.appliances;
        let years = f64::from(*days) / 365.25 * machines as f64;
        let all = self.calls.all;
        println!(
            "# What comes out of the simulation\n\n\
             Made by `scripts/facts`; do not edit. Seed {seed}: {kitchens} kitchens with {machines} machines over {days} \
             days, {} orders, {} test runs, {} readings. Nothing here is put in by hand: machines age by their \
             water, use and care, break, and are noticed; only how fast each part ages was chosen, so that the \
             weights below come near those expected. Expected values are common practice, without a source.\n",
            self.totals.orders, self.totals.test_runs, self.totals.readings,
        );
        println!("| fact | expected | simulated | n |\n| --- | --- | --- | --- |");
        self.healthy_fills_s.sort_by(f64::total_cmp);
        let fills = &self.healthy_fills_s;
        let quantile =
            |q: f64| fills.get(((fills.len() as f64 - 1.0) * q) as usize).copied().unwrap_or(f64::NAN);
        println!(
            "| fill of a combi oven with nothing in its way, s: 10 %, median, 90 % | 10 to 15 | {:.1}, {:.1}, {:.1} | {} |",
            quantile(0.1),
            quantile(0.5),
            quantile(0.9),
            fills.len()
        );
        let inside = fills.iter().filter(|seconds| (10.0..=15.0).contains(*seconds)).count();
        println!(
            "| such fills within 10 to 15 s, % | most | {:.1} | {} |",
            percent(inside as u32, fills.len() as u32),
            fills.len()
        );
        println!(
            "| calls behind which two faults or more stand, % | 20 to 30 | {:.1} | {all} |",
            percent(self.calls.with_several, all)
        );
        println!(
            "| calls behind which no fault stands, % | | {:.1} | {all} |",
            percent(self.calls.with_none, all)
        );
        println!("| calls a machine and year | | {:.2} | {all} |", f64::from(all) / years);
        println!(
            "| visits an order | | {:.2} | {} |",
            f64::from(self.visits) / self.totals.orders as f64,
            self.totals.orders
        );
        self.print_weights();
        print_counts(
            "## How orders end",
            "outcome",
            self.outcomes.iter().map(|((work, outcome), count)| (format!("{work}: {outcome}"), *count)),
        );
        let named = |(name, count): (&&str, &u32)| ((*name).to_owned(), *count);
        print_counts("## What callers complain of", "symptom", self.symptoms.iter().map(named));
        print_counts("## What was done", "action", self.actions.iter().map(named));
    }

    fn print_weights(&self) {
        println!(
            "\n## Faults\n\nHow often each stands behind a call, as a weight on the scale of those expected, which sum to \
             {:.0}; by model, too, since not every model has every part. The severity is the mean of those found, from \
             0 (sound) to 1.\n",
            EXPECTED.iter().map(|(_, weight)| weight).sum::<f64>()
        );
        let models: Vec<_> = self.by_model.iter().collect();
        print!("| fault | expected | simulated | ratio | n | severity |");
        for (model, calls) in &models {
            print!(" {} (n = {}) |", model.replace('_', " "), calls.faults());
        }
        println!("\n| --- |{}", " --- |".repeat(5 + models.len()));
        for (defect, expected) in EXPECTED {
            let weight = self.calls.weight(defect);
            print!(
                "| {} | {expected:.1} | {weight:.1} | {:.2} | {} | {:.2} |",
                defect.key().replace('_', " "),
                weight / expected,
                self.calls.of(defect),
                self.calls.severity(defect)
            );
            for (_, calls) in &models {
                print!(" {:.1} |", calls.weight(defect));
            }
            println!();
        }
        let within = |factor: f64| {
            let near = |(defect, expected): &(Defect, f64)| {
                let ratio = self.calls.weight(*defect) / expected;
                ratio <= factor && ratio >= 1.0 / factor
            };
            let of_weight: f64 = EXPECTED.iter().filter(|row| near(row)).map(|(_, weight)| weight).sum();
            (EXPECTED.iter().filter(|row| near(row)).count(), of_weight)
        };
        let all: f64 = EXPECTED.iter().map(|(_, weight)| weight).sum();
        for factor in [1.25, 1.5, 2.0] {
            let (count, of_weight) = within(factor);
            println!(
                "{}{count} of {} faults, {:.0} % of the expected weight, are within a factor of {factor}.",
                if factor < 1.3 { "\n" } else { "" },
                EXPECTED.len(),
                100.0 * of_weight / all
            );
        }
    }
}

fn print_counts(title: &str, of: &str, counts: impl Iterator<Item = (String, u32)>) {
    let mut counts: Vec<_> = counts.collect();
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let all: u32 = counts.iter().map(|(_, count)| count).sum();
    println!("\n{title}\n\n| {of} | n | % |\n| --- | --- | --- |");
    for (name, count) in counts {
        println!("| {} | {count} | {:.1} |", name.replace('_', " "), percent(count, all));
    }
}

fn main() -> Result<(), InvalidSettings> {
    let arguments = Arguments::parse();
    let company = Company::new(Settings {
        kitchens: arguments.kitchens,
        days: arguments.days,
        thoroughness: arguments.thoroughness,
        written_down: arguments.written_down,
        stories: false,
        original_parts: false,
        cases: true,
        ..Settings::demo(arguments.seed)
    })?;
    let branches = company.settings().branches();
    let bar = ProgressBar::new(branches as u64);
    let mut facts = Facts::default();
    for index in 0..branches {
        let mut branch = company.branch(index);
        while let Some(entries) = branch.next_day() {
            for truth in branch.take_truths() {
                facts.learn_truth(&truth);
            }
            for dated in &entries {
                facts.learn(&dated.entry);
            }
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    facts.print(&arguments);
    Ok(())
}
