//! The simulator judges the predictor, so it must not share its code.

#[cfg(test)]
mod tests {
    use std::path::Path;

    /// Modules of the domain that compute; the rest is data that both sides share.
    const COMPUTING: [&str; 7] =
        ["physics", "diagnosis", "grading", "known_good", "repeats", "reliability", "probability"];

    fn sources(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                sources(&path, found);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                found.push(path);
            }
        }
    }

    /// Names of the domain's top-level modules that a source uses, in any of the ways to write it.
    fn used(source: &str) -> Vec<String> {
        let code: String =
            source.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join(" ");
        let mut names = Vec::new();
        for after in code.split("domain::").skip(1) {
            let group = after.strip_prefix('{').map(|group| group.split("};").next().unwrap_or(group));
            let list = group.unwrap_or(after).split(',').take(if group.is_some() { usize::MAX } else { 1 });
            for item in list {
                names.push(item.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect());
            }
        }
        names
    }

    #[test]
    fn no_source_of_the_simulator_uses_what_the_predictor_computes_with() {
        let mut found = Vec::new();
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        sources(&root.join("src"), &mut found);
        sources(&root.join("examples"), &mut found);
        assert!(found.len() > 20);
        for path in found.into_iter().filter(|path| !path.ends_with("independence.rs")) {
            let source = std::fs::read_to_string(&path).unwrap();
            for name in used(&source) {
                assert!(!COMPUTING.contains(&name.as_str()), "{} uses the domain's {name}", path.display());
            }
        }
    }

    #[test]
    fn every_way_to_write_an_import_is_seen() {
        assert_eq!(used("use domain::physics::flow;"), ["physics"]);
        assert_eq!(used("let x = domain::diagnosis::posterior();"), ["diagnosis"]);
        assert_eq!(used("use domain::{id::SiteId, grading};"), ["id", "grading"]);
        assert!(used("// domain::physics is not used").is_empty());
    }
}
