//! The lives in groups, the largest first.

use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};

use chrono::TimeDelta;
use domain::id::{PartId, SiteId};
use domain::reliability::Life;
use domain::reliability::lives::{FittedPart, NotCounted, in_days_begun, lives};
use domain::site_water::HardnessBand;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use store::Database;
use store::catalogue::model_titles;
use store::part_life::{self, PartInPlace};

use super::MOST_GROUPS;
use crate::Refusal;

/// By what lives are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum GroupBy {
    /// All together.
    Nothing,
    #[default]
    Part,
    Position,
    Model,
    /// How hard the water is that reaches the machine, as last read.
    Hardness,
}

/// Whose lives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GroupOf {
    All,
    Part {
        id: PartId,
        number: Name,
        title: Name,
    },
    Position(Key),
    Model {
        key: Key,
        title: String,
    },
    /// None where nobody has read it.
    Hardness(Option<HardnessBand>),
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum GroupKey {
    All,
    Part(PartId),
    Word(Key),
    Hardness(Option<HardnessBand>),
}

pub(super) struct Grouped {
    pub groups: Vec<(GroupOf, Vec<Life>)>,
    pub not_told_apart: (usize, usize),
    pub not_counted: NotCounted,
}

/// As seen from `from`, if it is said, until `until`.
pub(super) async fn grouped(
    database: &Database,
    parts: Vec<PartInPlace>,
    by: GroupBy,
    from: Option<Timestamp>,
    until: Timestamp,
) -> Result<Grouped, Refusal> {
    let hardness = match by {
        GroupBy::Hardness => part_life::hardness(database).await?,
        _ => HashMap::new(),
    };
    let mut not_counted = NotCounted::default();
    let mut in_groups: BTreeMap<GroupKey, Vec<FittedPart>> = BTreeMap::new();
    for part in parts {
        not_counted.fitting_date_unknown += u32::from(stood_before(&part, from));
        let mut fitted = part.fitted;
        fitted.recorded_from = from.map_or(fitted.recorded_from, |from| fitted.recorded_from.max(from));
        in_groups.entry(key(by, &part, &hardness)).or_default().push(fitted);
    }
    let mut groups: Vec<(GroupKey, Vec<Life>)> = Vec::with_capacity(in_groups.len());
    for (key, parts) in in_groups {
        let (lives, without) = lives(&parts, until);
        not_counted.not_observed += without.not_observed;
        if !lives.is_empty() {
            groups.push((key, in_days_begun(&lives)));
        }
    }
    groups.sort_by_key(|(_, lives)| Reverse(lives.len()));
    let rest = groups.split_off(groups.len().min(MOST_GROUPS));
    let not_told_apart = (rest.len(), rest.iter().map(|(_, lives)| lives.len()).sum());
    let ids: Vec<PartId> = groups
        .iter()
        .filter_map(|(key, _)| match key {
            GroupKey::Part(id) => Some(*id),
            _ => None,
        })
        .collect();
    let names = part_life::names(database, &ids).await?;
    let titles = match by {
        GroupBy::Model => model_titles(database).await?,
        _ => HashMap::new(),
    };
    let named = |(key, lives): (GroupKey, Vec<Life>)| Some((of(by, key, &names, &titles)?, lives));
    Ok(Grouped { groups: groups.into_iter().filter_map(named).collect(), not_told_apart, not_counted })
}

/// Whether another part stood in its place before, of which nobody noted when it was fitted.
fn stood_before(part: &PartInPlace, from: Option<Timestamp>) -> bool {
    let Some(fitted_at) = part.fitted.fitted_at else { return false };
    let came_with_it =
        part.installed_on.is_some_and(|day| fitted_at.instant().date_naive() - day <= TimeDelta::days(1));
    part.is_first_noted
        && !came_with_it
        && fitted_at > part.fitted.recorded_from
        && from.is_none_or(|from| fitted_at > from)
}

fn key(by: GroupBy, part: &PartInPlace, hardness: &HashMap<SiteId, f64>) -> GroupKey {
    match by {
        GroupBy::Nothing => GroupKey::All,
        GroupBy::Part => GroupKey::Part(part.part),
        GroupBy::Position => GroupKey::Word(part.position.clone()),
        GroupBy::Model => GroupKey::Word(part.model.clone()),
        GroupBy::Hardness => GroupKey::Hardness(hardness.get(&part.site).copied().map(HardnessBand::of)),
    }
}

/// None of a part that is no longer there.
fn of(
    by: GroupBy,
    key: GroupKey,
    names: &HashMap<PartId, (Name, Name)>,
    titles: &HashMap<Key, String>,
) -> Option<GroupOf> {
    Some(match key {
        GroupKey::All => GroupOf::All,
        GroupKey::Part(id) => {
            let (number, title) = names.get(&id)?.clone();
            GroupOf::Part { id, number, title }
        }
        GroupKey::Word(key) if by == GroupBy::Model => {
            let title = titles.get(&key).cloned().unwrap_or_else(|| key.to_string());
            GroupOf::Model { key, title }
        }
        GroupKey::Word(word) => GroupOf::Position(word),
        GroupKey::Hardness(band) => GroupOf::Hardness(band),
    })
}
