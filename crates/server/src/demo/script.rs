//! The script: steps in the order of time, with names in place of identifiers.

use domain::time::Timestamp;
use serde::Deserialize;
use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::calendar::Shift;

/// One request of the script.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    pub at: Timestamp,
    /// Whose token is used: a name from the script's people.
    #[serde(rename = "as")]
    pub by: String,
    #[serde(default)]
    pub post: Option<String>,
    #[serde(default)]
    pub patch: Option<String>,
    pub body: Value,
}

const PARTS: [&str; 7] = [
    include_str!("../../demo/company.json"),
    include_str!("../../demo/healthy_kitchens.json"),
    include_str!("../../demo/clogging_strainers.json"),
    include_str!("../../demo/drifting_canteen.json"),
    include_str!("../../demo/low_pressure_school.json"),
    include_str!("../../demo/open_orders.json"),
    include_str!("../../demo/hotel_warewasher.json"),
];

/// All steps, by time, moved; names are replaced by the identifiers that they stand for.
pub fn steps(shift: Shift) -> Result<Vec<Step>, serde_json::Error> {
    let mut steps = Vec::new();
    for part in PARTS {
        let mut script: Value = serde_json::from_str(part)?;
        name_ids(&mut script);
        shift.move_all(&mut script);
        let of_part: Vec<Step> = serde_json::from_value(script)?;
        steps.extend(of_part);
    }
    steps.sort_by_key(|step| step.at);
    Ok(steps)
}

/// `@harbour` becomes the identifier of that name; in a path also between slashes.
pub fn name_ids(value: &mut Value) {
    match value {
        Value::String(text) if text.contains('@') => {
            let part = |part: &str| {
                part.strip_prefix('@').map_or_else(|| part.to_owned(), |name| id_of(name).to_string())
            };
            *text = text.split('/').map(part).collect::<Vec<_>>().join("/");
        }
        Value::Array(items) => items.iter_mut().for_each(name_ids),
        Value::Object(members) => members.values_mut().for_each(name_ids),
        _ => {}
    }
}

/// The same identifier for the same name, always: a UUID version 7 of the script's first moment whose
/// random bits come from the name's hash.
pub fn id_of(name: &str) -> Uuid {
    const FIRST_MOMENT: u64 = 1_767_600_000_000; // 2026-01-05T08:00:00Z
    let hash = Sha256::digest(name.as_bytes());
    let mut random = [0; 10];
    random.copy_from_slice(&hash[..10]);
    uuid::Builder::from_unix_timestamp_millis(FIRST_MOMENT, &random).into_uuid()
}
