//! All that is measured on the cases of one tier.

use domain::diagnosis::{CarryLimits, Tables, parts_within};
use domain::equipment::{
    FaultCatalogue, Model, demo_combi, demo_combi_faults, demo_warewasher, demo_warewasher_faults,
};
use domain::procedure::{Procedure, built_in_procedures};
use simulator::cases::catalogue::CatalogueCases;
use simulator::cases::physical::PhysicalCases;

use crate::Arguments;
use crate::course::{Course, Policy};
use crate::ideal::{Ideal, Said};
use crate::judged::Judged;
use crate::labelled::{Labelled, Naming, from_catalogue, from_company};
use crate::repair::{Minutes, Repairs};
use crate::workers;
use crate::world::World;

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Tier {
    /// Cases from the catalogue's own model.
    A,
    /// Calls of the simulated company.
    B,
}

/// One case, wholly tested.
pub struct Outcome {
    pub judged: Judged,
    pub faults: usize,
    pub visit: Visit,
}

/// The first visit with what was advised at the call, for a van with this many free places.
#[derive(Debug, Clone, Copy)]
pub struct Visit {
    pub predicted: f64,
    pub ended: bool,
}

const PLACES: u32 = 4;

/// The courses of one case under both policies.
pub struct Courses {
    pub engine: Course,
    pub cheapest: Course,
    /// After the whole checklist.
    pub whole: Judged,
}

pub struct Results {
    pub tier: Tier,
    pub seed: u64,
    pub outcomes: Vec<Outcome>,
    pub courses: Vec<Courses>,
    /// Of each policy, in the order of [`Policy::ALL`](crate::repair::Policy::ALL).
    pub repairs: Vec<[Minutes; 4]>,
    /// What the ideal observer says of the first cases of tier A.
    pub ideal: Vec<Said>,
    /// Faults that are scored as one.
    pub alike: Vec<String>,
}

pub fn evaluate(tier: Tier, arguments: &Arguments) -> Result<Results, Box<dyn std::error::Error>> {
    let (model, catalogue): (&'static Model, &'static FaultCatalogue) = match arguments.model.as_str() {
        "demo_combi" => (demo_combi(), demo_combi_faults()),
        "demo_warewasher" => (demo_warewasher(), demo_warewasher_faults()),
        other => return Err(format!("knows no model '{other}'; take demo_combi or demo_warewasher").into()),
    };
    let procedures: Vec<_> = built_in_procedures().iter().map(|of| of.shown(Some(model))).collect();
    let procedures = &procedures[..];
    let mut known = catalogue.clone();
    if let Some(minutes) = arguments.missed_fault_minutes {
        known.losses.missed_fault_minutes = minutes;
    }
    let tables = Tables::compile(&known, model, procedures)
        .map_err(|violations| format!("the catalogue is at fault: {violations:?}"))?;
    let naming = Naming::new(&tables);
    let cases = cases(tier, arguments, model, catalogue, procedures)?;
    let threads = arguments.threads;
    let outcomes =
        workers::map(threads, &format!("tier {tier:?}: whole checklists"), &cases, |labelled| Outcome {
            judged: Judged::of(&tables, &naming, labelled, &labelled.case),
            faults: labelled.truth.faults.len() + labelled.truth.other_in.len(),
            visit: first_visit(&tables, labelled),
        });
    let stepwise = evenly(&cases, arguments.stepwise);
    let courses = workers::map(threads, &format!("tier {tier:?}: test by test"), &stepwise, |labelled| {
        let course = |policy| Course::of(&tables, procedures, &naming, labelled, policy);
        Courses {
            engine: course(Policy::Engine),
            cheapest: course(Policy::CheapestFirst),
            whole: Judged::of(&tables, &naming, labelled, &labelled.case),
        }
    });
    let whole_calls = evenly(&cases, arguments.repairs);
    let world = match tier {
        Tier::A => World::Catalogue(Box::new(
            CatalogueCases::new(arguments.seed, model, catalogue)
                .ok_or("the model lacks a part of the circuit")?,
        )),
        Tier::B => World::Company(procedures),
    };
    let calls = Repairs { tables: &tables, model, procedures, world };
    let what = format!("tier {tier:?}: whole calls");
    let repairs = workers::map(threads, &what, &whole_calls, |labelled| calls.minutes(labelled));
    let repairs = repairs.into_iter().flatten().collect();
    let mut ideal = Vec::new();
    if tier == Tier::A {
        let observer = Ideal::new(model, catalogue).ok_or("the model lacks a part of the circuit")?;
        let judged = &cases[..arguments.ideal.min(cases.len())];
        ideal = workers::map(threads, "tier A: ideal observer", judged, |labelled| {
            labelled.drawn.as_ref().map(|drawn| observer.judge(drawn, &labelled.truth, &naming))
        })
        .into_iter()
        .flatten()
        .collect();
    }
    let alike = naming
        .groups
        .iter()
        .map(|group| group.iter().map(ToString::to_string).collect::<Vec<_>>().join(" = "))
        .collect();
    Ok(Results { tier, seed: arguments.seed, outcomes, courses, repairs, ideal, alike })
}

fn cases(
    tier: Tier,
    arguments: &Arguments,
    model: &'static Model,
    catalogue: &'static FaultCatalogue,
    procedures: &[Procedure],
) -> Result<Vec<Labelled>, Box<dyn std::error::Error>> {
    let what = format!("tier {tier:?}: drawing cases");
    Ok(match tier {
        Tier::A => {
            let cases = CatalogueCases::new(arguments.seed, model, catalogue)
                .ok_or("the model lacks a part of the circuit that the catalogue speaks of")?;
            workers::draw(&what, arguments.cases, cases.map(|case| from_catalogue(&case)))
        }
        Tier::B => {
            let code = if arguments.model == "demo_combi" { "demo_combi" } else { "demo_warewasher" };
            let cases = PhysicalCases::new(arguments.seed, code)?;
            workers::draw(&what, arguments.cases, cases.map(|case| from_company(&case, procedures)))
        }
    })
}

/// So many of the cases, evenly spread: calls of one kitchen follow each other and resemble each other.
fn evenly(cases: &[Labelled], count: usize) -> Vec<&Labelled> {
    let count = count.min(cases.len());
    (0..count).map(|at| &cases[at * cases.len() / count]).collect()
}

fn first_visit(tables: &Tables, labelled: &Labelled) -> Visit {
    let at_call = labelled.after(&std::collections::BTreeSet::new());
    let limits = CarryLimits { price: None, places: Some(PLACES) };
    let (parts, predicted) = parts_within(tables, &at_call, limits);
    let needs = |key: &domain::text::Key| {
        let fault = tables.catalogue().fault(key.as_str());
        fault.is_none_or(|fault| fault.remedy.parts.iter().all(|need| parts.contains(&need.part)))
    };
    let ended = labelled.truth.other_in.is_empty() && labelled.truth.faults.iter().all(needs);
    Visit { predicted, ended }
}
