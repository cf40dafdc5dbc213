//! What a form or an address says, by name.

use axum::http::Uri;

/// Names and texts in the order in which they were sent; a name may come more than once.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Fields(Vec<(String, String)>);

impl Fields {
    /// None if it is not what a form sends.
    pub fn of_text(text: &str) -> Option<Self> {
        serde_urlencoded::from_str(text).ok().map(Self)
    }

    pub fn of_query(uri: &Uri) -> Self {
        uri.query().and_then(Self::of_text).unwrap_or_default()
    }

    /// The text of this name as it was typed; empty without one.
    pub fn raw(&self, name: &str) -> &str {
        self.0.iter().find(|pair| pair.0 == name).map_or("", |pair| pair.1.as_str())
    }

    /// The text of this name without the spaces around it; none if there is no more to it.
    pub fn get(&self, name: &str) -> Option<&str> {
        Some(self.raw(name).trim()).filter(|text| !text.is_empty())
    }

    pub fn all<'a>(&'a self, name: &str) -> impl Iterator<Item = &'a str> {
        let is_named = move |pair: &&'a (String, String)| pair.0 == name;
        self.0.iter().filter(is_named).map(|(_, text)| text.as_str())
    }

    /// The text of this name as something else; none if it was left empty.
    pub fn parse<T: std::str::FromStr>(&self, name: &str) -> Option<Result<T, T::Err>> {
        self.get(name).map(str::parse)
    }

    pub fn pairs(&self) -> &[(String, String)] {
        &self.0
    }
}

impl From<Vec<(String, String)>> for Fields {
    fn from(pairs: Vec<(String, String)>) -> Self {
        Self(pairs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_typed_is_found_by_name() {
        let fields = Fields::of_text("why=+it+leaks+&person=a&person=b&empty=++&n=7").unwrap();
        assert_eq!(fields.raw("why"), " it leaks ");
        assert_eq!(fields.get("why"), Some("it leaks"));
        assert_eq!(fields.get("empty"), None);
        assert_eq!(fields.all("person").collect::<Vec<_>>(), ["a", "b"]);
        assert_eq!(fields.parse::<i64>("n"), Some(Ok(7)));
        assert!(fields.parse::<i64>("why").unwrap().is_err());
        assert_eq!(fields.get("nothing"), None);
    }
}
