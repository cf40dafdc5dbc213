//! What closed jobs teach: how often faults arise, with which complaint they are reported, and how
//! they show.
//!
//! Rates are Gamma–Poisson, shares Dirichlet, both started from the catalogue; source: conjugate
//! updating, textbook. Who decides what was looked for is not left to chance: a fault that was neither
//! tested nor mended and re-tested counts by its expectation under the *catalogue*, not under what was
//! learned, so that the knowledge cannot talk itself into anything; and of 5 % of the calls, drawn by
//! [`gets_full_checklist`], everything is known. One site or technician gives at most a tenth of what is
//! known of a fault.
//!
//! Every version can be made again from the catalogue and the same jobs: the sums run in a fixed order.

mod cap;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::case::{Case, FoundState, PriorFinding};
use super::{Tables, probabilities};
use crate::equipment::{FaultCatalogue, ObservationKey, Shows};
use crate::id::{PersonId, SiteId, WorkOrderId};
use crate::text::Key;
use crate::vocabulary::Symptom;
use cap::capped;

/// How much a catalogue counts for beside what jobs teach. **Judgement**.
#[derive(Debug, Clone, Copy)]
struct Strength {
    /// How many arisings its rate of a fault counts for.
    rate: f64,
    /// How many cases its shares count for.
    share: f64,
}

/// Of a catalogue that somebody wrote for the model.
const WRITTEN: Strength = Strength { rate: 4.0, share: 20.0 };
/// Of one that was drafted: it speaks of machines in general, so the company's own teach the sooner.
const GENERAL: Strength = Strength { rate: 1.0, share: 8.0 };

impl Strength {
    const fn of(catalogue: &FaultCatalogue) -> Self {
        if catalogue.general { GENERAL } else { WRITTEN }
    }
}

/// Most that one site or one technician gives of all that is known of a fault.
const MOST_FROM_ONE: f64 = 0.1;
/// Share of calls on which the full checklist is taken.
const FULL_CHECKLISTS: f64 = 0.05;

/// One version of what is known of a model: the catalogue with the numbers that jobs have taught.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Knowledge {
    /// 0 is the catalogue as it came.
    pub version: u32,
    pub catalogue: FaultCatalogue,
    pub made_from: MadeFrom,
}

/// What a version was made from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeFrom {
    pub jobs: usize,
    pub appliance_years: f64,
    /// SHA-256, in hexadecimal, of catalogue, jobs and exposure.
    pub sha256: String,
}

/// A job whose end is known, as far as it teaches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClosedJob {
    pub work_order: WorkOrderId,
    pub site: SiteId,
    pub technician: PersonId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub complaint: Option<Symptom>,
    pub findings: Vec<JobFinding>,
    /// How the inspections of the first visit were read.
    #[serde(default)]
    pub looks: Vec<(ObservationKey, Key)>,
    /// Every fault of the catalogue was tested for.
    #[serde(default)]
    pub full_checklist: bool,
}

/// What a job says of one fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JobFinding {
    pub fault: Key,
    pub outcome: JobOutcome,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum JobOutcome {
    /// A test of its own showed it.
    Confirmed,
    /// It was mended together with others, and the tests then passed: which of them it was is not
    /// known, so they share the credit.
    MendedTogether,
    /// A test of its own showed that it is not there.
    Refuted,
}

/// How long appliances of the model were in service at a site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Exposure {
    pub site: SiteId,
    pub appliance_years: f64,
}

/// Whether this call is one of those, drawn at random once and for all, on which everything is tested.
pub fn gets_full_checklist(work_order: WorkOrderId) -> bool {
    let digest = Sha256::digest(work_order.to_string().as_bytes());
    let drawn = digest.iter().take(8).fold(0_u64, |number, byte| number << 8 | u64::from(*byte));
    (drawn as f64) < FULL_CHECKLISTS * u64::MAX as f64
}

/// Credit for one fault from one job.
struct Credit {
    site: SiteId,
    technician: PersonId,
    amount: f64,
}

impl Knowledge {
    /// The catalogue before any job.
    pub fn from_catalogue(catalogue: &FaultCatalogue) -> Self {
        let made_from = MadeFrom { jobs: 0, appliance_years: 0.0, sha256: fingerprint(catalogue, &[], &[]) };
        Self { version: 0, catalogue: catalogue.clone(), made_from }
    }

    /// The version that these jobs teach, all of them at once: `catalogue` holds the tables of the
    /// catalogue as it came. Jobs in any order, and each counted once, give the same numbers.
    #[must_use]
    pub fn learn(catalogue: &Tables, jobs: &[ClosedJob], exposure: &[Exposure], version: u32) -> Self {
        let mut sorted: BTreeMap<WorkOrderId, &ClosedJob> = BTreeMap::new();
        for job in jobs {
            sorted.insert(job.work_order, job);
        }
        let jobs: Vec<&ClosedJob> = sorted.into_values().collect();
        let mut years: BTreeMap<SiteId, f64> = BTreeMap::new();
        for exposure in exposure.iter().filter(|exposure| exposure.appliance_years > 0.0) {
            *years.entry(exposure.site).or_default() += exposure.appliance_years;
        }
        let credits = credits(catalogue, &jobs);
        let mut learned = catalogue.catalogue().clone();
        let strength = Strength::of(&learned);
        for fault in &mut learned.faults {
            let of_fault = credits.get(&fault.key).map_or(&[][..], Vec::as_slice);
            fault.per_year = rate(fault.per_year, of_fault, &years, strength.rate);
        }
        learn_symptoms(&mut learned, &jobs);
        learn_shows(&mut learned, &jobs);
        let appliance_years = years.values().sum();
        let sha256 = fingerprint(catalogue.catalogue(), &jobs, exposure);
        Self {
            version,
            catalogue: learned,
            made_from: MadeFrom { jobs: jobs.len(), appliance_years, sha256 },
        }
    }
}

fn fingerprint(catalogue: &FaultCatalogue, jobs: &[&ClosedJob], exposure: &[Exposure]) -> String {
    let mut exposure = exposure.to_vec();
    exposure.sort_by(|a, b| a.site.cmp(&b.site).then(a.appliance_years.total_cmp(&b.appliance_years)));
    super::identity::digest(&(catalogue, jobs, exposure))
}

/// What is to be expected of faults that nobody looked for, by what the job says.
type Expected<'a> = BTreeMap<(Option<Symptom>, Vec<(&'a Key, JobOutcome)>), Vec<(Key, f64)>>;

/// What each job says of each fault: 1 if confirmed, its share if mended together, the expectation
/// under the catalogue if nobody looked.
fn credits(catalogue: &Tables, jobs: &[&ClosedJob]) -> BTreeMap<Key, Vec<Credit>> {
    let mut credits: BTreeMap<Key, Vec<Credit>> = BTreeMap::new();
    // Most jobs say the same as another.
    let mut known = Expected::new();
    for job in jobs {
        let together =
            job.findings.iter().filter(|finding| finding.outcome == JobOutcome::MendedTogether).count();
        let says = || job.findings.iter().map(|finding| (&finding.fault, finding.outcome)).collect();
        let expected: &[(Key, f64)] = if job.full_checklist {
            &[]
        } else {
            known.entry((job.complaint, says())).or_insert_with(|| expectations(catalogue, job))
        };
        let mut give = |fault: &Key, amount: f64| {
            let credit = Credit { site: job.site, technician: job.technician, amount };
            credits.entry(fault.clone()).or_default().push(credit);
        };
        for finding in &job.findings {
            match finding.outcome {
                JobOutcome::Confirmed => give(&finding.fault, 1.0),
                JobOutcome::MendedTogether => give(&finding.fault, 1.0 / together as f64),
                JobOutcome::Refuted => {}
            }
        }
        for (fault, probability) in expected {
            if !job.findings.iter().any(|finding| finding.fault == *fault) {
                give(fault, *probability);
            }
        }
    }
    credits
}

fn expectations(catalogue: &Tables, job: &ClosedJob) -> Vec<(Key, f64)> {
    let findings = job
        .findings
        .iter()
        .map(|finding| PriorFinding {
            fault: finding.fault.clone(),
            state: match finding.outcome {
                JobOutcome::Confirmed | JobOutcome::MendedTogether => FoundState::Stands,
                JobOutcome::Refuted => FoundState::Absent,
            },
        })
        .collect();
    probabilities(catalogue, &Case { complaint: job.complaint, findings, ..Case::default() }).faults
}

/// Posterior mean of a rate: `(a + Σ w·n)/(a/λ₀ + Σ w·T)`, with a weight for each site that holds its
/// share of the evidence down.
fn rate(prior: f64, credits: &[Credit], years: &BTreeMap<SiteId, f64>, strength: f64) -> f64 {
    // A fault that cannot arise is not learned into being.
    if prior <= 0.0 {
        return prior;
    }
    let by = |of: fn(&Credit) -> uuid::Uuid| {
        let mut sums: BTreeMap<uuid::Uuid, f64> = BTreeMap::new();
        for credit in credits {
            *sums.entry(of(credit)).or_default() += credit.amount;
        }
        capped(&sums, strength, MOST_FROM_ONE)
    };
    let technicians = by(|credit| credit.technician.into());
    let sites = by(|credit| credit.site.into());
    let weight =
        |weights: &BTreeMap<uuid::Uuid, f64>, id: uuid::Uuid| weights.get(&id).copied().unwrap_or(1.0);
    let events: f64 = credits
        .iter()
        .map(|credit| {
            let of_site = weight(&sites, credit.site.into());
            credit.amount * of_site.min(weight(&technicians, credit.technician.into()))
        })
        .sum();
    let exposure: f64 = years.iter().map(|(site, years)| years * weight(&sites, (*site).into())).sum();
    (strength + events) / (strength / prior + exposure)
}

/// Shares of the complaints, from jobs on which exactly one fault was found.
fn learn_symptoms(catalogue: &mut FaultCatalogue, jobs: &[&ClosedJob]) {
    let strength = Strength::of(catalogue).share;
    for fault in &mut catalogue.faults {
        let mut counts: BTreeMap<Symptom, f64> = BTreeMap::new();
        let mut total = 0.0;
        for (_, complaint) in single(jobs, &fault.key).filter_map(|job| Some((job, job.complaint?))) {
            *counts.entry(complaint).or_default() += 1.0;
            total += 1.0;
        }
        if total == 0.0 {
            continue;
        }
        let symptoms: Vec<Symptom> = fault.symptoms.keys().copied().chain(counts.keys().copied()).collect();
        let prior = fault.clone();
        for symptom in symptoms {
            let count = counts.get(&symptom).copied().unwrap_or(0.0);
            let share = prior.symptom_share(symptom);
            fault.symptoms.insert(symptom, (strength * share + count) / (strength + total));
        }
    }
}

/// How faults show at inspections, likewise. What is read is taken for the truth: the few slips are
/// part of the share.
fn learn_shows(catalogue: &mut FaultCatalogue, jobs: &[&ClosedJob]) {
    let strength = Strength::of(catalogue).share;
    let normal: BTreeMap<&ObservationKey, &Key> =
        catalogue.inspections.iter().filter_map(|of| Some((&of.key, of.choices.first()?))).collect();
    let mut learned: Vec<(usize, Vec<Shows>)> = Vec::new();
    for (index, fault) in catalogue.faults.iter().enumerate() {
        let mut shows = fault.shows.clone();
        for entry in &mut shows {
            let looks = single(jobs, &fault.key)
                .flat_map(|job| &job.looks)
                .filter(|(at, _)| *at == entry.at && normal.contains_key(at));
            let (mut shown, mut total) = (0.0, 0.0);
            for (_, choice) in looks {
                total += 1.0;
                shown += f64::from(u8::from(*choice == entry.choice));
            }
            entry.probability = (strength * entry.probability + shown) / (strength + total);
        }
        learned.push((index, shows));
    }
    for (index, shows) in learned {
        catalogue.faults[index].shows = shows;
    }
}

/// Jobs on which this fault was confirmed and nothing else was found.
fn single<'a>(jobs: &'a [&'a ClosedJob], fault: &'a Key) -> impl Iterator<Item = &'a ClosedJob> {
    jobs.iter().copied().filter(move |job| {
        let mut found = job.findings.iter().filter(|finding| finding.outcome != JobOutcome::Refuted);
        found.next().is_some_and(|first| first.fault == *fault && first.outcome == JobOutcome::Confirmed)
            && found.next().is_none()
    })
}

#[cfg(test)]
mod tests;
