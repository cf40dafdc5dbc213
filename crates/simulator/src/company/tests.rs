use std::collections::{BTreeMap, BTreeSet};

use domain::equipment::{Model, demo_combi, demo_warewasher};
use domain::procedure::built_in_procedures;
use domain::vocabulary::{Action, Cause, Condition, EvidenceKind, FailureMode, Mechanism, Position, Symptom};

use super::{Company, InvalidSettings, Settings, Totals, large_combi};
use crate::clock::{day_of, moment};
use crate::history::{Dated, Entry};

fn small(seed: u64) -> Settings {
    Settings { kitchens: 12, kitchens_of_a_branch: 6, days: 500, ..Settings::demo(seed) }
}

fn lived(settings: Settings) -> Vec<Dated> {
    Company::new(settings).unwrap().history(|_| ()).collect()
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let written = |seed| serde_json::to_string(&lived(small(seed))).unwrap();
    assert_eq!(written(3), written(3));
    assert_ne!(written(3), written(4));
}

#[test]
fn a_branch_does_not_depend_on_how_many_there_are() {
    let of_first_branch = |kitchens| {
        let mut branch = Company::new(Settings { kitchens, ..small(5) }).unwrap().branch(0);
        let mut entries = Vec::new();
        while let Some(today) = branch.next_day() {
            entries.extend(today);
        }
        serde_json::to_string(&entries).unwrap()
    };
    assert_eq!(of_first_branch(6), of_first_branch(12));
}

#[test]
fn entries_come_in_the_order_of_time_and_refer_only_to_what_was_there() {
    let settings = small(7);
    let (first, last) = (day_of(moment(settings.start)), day_of(moment(settings.start)) + 499);
    let history = lived(settings);
    assert!(history.is_sorted_by_key(|dated| dated.at));
    let mut known = BTreeSet::new();
    for dated in &history {
        assert!((first..=last).contains(&day_of(moment(dated.at))), "{dated:?}");
        let value = serde_json::to_value(&dated.entry).unwrap();
        let own = value.get("id").filter(|_| creates(&dated.entry)).cloned();
        for (field, id) in ids_in(&value) {
            let is_own = field == "id" && own.is_some();
            assert!(is_own || known.contains(&id), "{field} {id} is not known yet: {dated:?}");
        }
        if let Some(own) = own {
            assert!(known.insert(own.as_str().unwrap().to_owned()), "an id twice: {dated:?}");
        }
    }
}

#[test]
fn an_order_follows_only_one_that_is_closed() {
    let (mut closed, mut followed) = (BTreeSet::new(), 0);
    for seed in [7, 8] {
        for dated in lived(Settings { days: 731, ..Settings::demo(seed) }) {
            match dated.entry {
                Entry::Closed(of) => {
                    closed.insert(of.work_order);
                }
                Entry::WorkOrder(order) => {
                    let follows = order.follows;
                    assert!(follows.is_none_or(|earlier| closed.contains(&earlier)), "{order:?}");
                    followed += usize::from(follows.is_some());
                }
                _ => {}
            }
        }
    }
    assert!(followed > 10, "{followed}");
}

fn creates(entry: &Entry) -> bool {
    !matches!(entry, Entry::FittedPartRemoved(_) | Entry::WaitingEnded(_) | Entry::InterlockRestored(_))
}

/// Every text that is a UUID, with the name of its field.
fn ids_in(value: &serde_json::Value) -> Vec<(String, String)> {
    let serde_json::Value::Object(fields) = value else { return Vec::new() };
    let mut ids = Vec::new();
    for (field, value) in fields {
        let values = value.as_array().map_or(std::slice::from_ref(value), Vec::as_slice);
        for value in values {
            if let Some(text) = value.as_str().filter(|text| text.parse::<uuid::Uuid>().is_ok()) {
                ids.push((field.clone(), text.to_owned()));
            }
        }
    }
    ids
}

#[test]
fn every_test_run_holds_the_rules_of_its_procedure() {
    let models: BTreeMap<_, &Model> = [demo_combi(), large_combi(), demo_warewasher()]
        .into_iter()
        .map(|model| (model.key.as_str(), model))
        .collect();
    let mut model_of = BTreeMap::new();
    let mut runs = 0;
    for dated in lived(small(11)) {
        match dated.entry {
            Entry::Appliance(appliance) => {
                model_of.insert(appliance.id, models[appliance.model]);
            }
            Entry::TestRun(run) => {
                let procedures = built_in_procedures();
                let procedure = procedures.iter().find(|procedure| procedure.id() == run.procedure).unwrap();
                let model = model_of[&run.appliance];
                assert_eq!(run.validate(procedure, model), Ok(()), "{run:?}");
                runs += 1;
            }
            _ => {}
        }
    }
    assert!(runs > 500, "{runs}");
}

#[test]
fn every_code_is_of_the_vocabulary() {
    fn parses<T: std::str::FromStr<Err: std::fmt::Debug>>(code: &str) {
        code.parse::<T>().unwrap_or_else(|error| panic!("{code}: {error:?}"));
    }
    for dated in lived(small(13)) {
        match dated.entry {
            Entry::WorkOrder(order) => order.symptoms.iter().for_each(|code| parses::<Symptom>(code)),
            Entry::Finding(finding) => {
                parses::<Position>(finding.position);
                parses::<Condition>(finding.finding);
                parses::<EvidenceKind>(finding.evidence);
                finding.failure_mode.into_iter().for_each(parses::<FailureMode>);
                finding.mechanism.into_iter().for_each(parses::<Mechanism>);
                finding.cause.into_iter().for_each(parses::<Cause>);
            }
            Entry::Action(action) => {
                parses::<Position>(action.position);
                parses::<Action>(action.action);
            }
            Entry::Part(part) => parses::<Position>(part.position),
            _ => {}
        }
    }
}

#[test]
fn what_is_opened_is_closed_again_or_still_open_at_the_end() {
    let history = lived(small(17));
    let (mut orders, mut defeats, mut waits) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
    let mut totals = Totals::default();
    for dated in &history {
        totals.count(&dated.entry);
        match &dated.entry {
            Entry::WorkOrder(order) => assert!(orders.insert(order.id)),
            Entry::InterlockDefeat(defeat) => assert!(defeats.insert(defeat.id)),
            Entry::InterlockRestored(restored) => assert!(defeats.remove(&restored.id)),
            Entry::WaitingBegan(began) => assert!(waits.insert(began.id)),
            Entry::WaitingEnded(ended) => assert!(waits.remove(&ended.id)),
            Entry::Closed(closed) => {
                assert!(orders.remove(&closed.work_order), "closed twice");
                assert!(closed.outcome != "repaired" || closed.restored_at.is_some());
            }
            _ => {}
        }
    }
    assert!(orders.len() * 5 < totals.orders as usize, "{} of {} still open", orders.len(), totals.orders);
}

#[test]
fn settings_out_of_reason_are_refused() {
    let refused = |settings| Company::new(settings).err();
    assert_eq!(refused(Settings { kitchens: 0, ..small(1) }), Some(InvalidSettings::NoKitchens));
    assert_eq!(refused(Settings { days: u32::MAX, ..small(1) }), Some(InvalidSettings::OutOfTime));
    assert_eq!(refused(Settings { thoroughness: f64::NAN, ..small(1) }), Some(InvalidSettings::Thoroughness));
}
