//! A strict reader of the page's markup: every element that is opened is closed in its place, and text is text.

/// Elements of HTML that have no end.
const VOID: [&str; 4] = ["meta", "img", "br", "hr"];

/// An element as it begins.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tag {
    pub(crate) name: String,
    pub(crate) attributes: Vec<(String, String)>,
}

impl Tag {
    pub(crate) fn attribute(&self, name: &str) -> Option<&str> {
        let mut all = self.attributes.iter();
        all.find(|it| it.0 == name).map(|it| it.1.as_str())
    }
}

/// What was read.
#[derive(Debug, Default)]
pub(crate) struct Page {
    /// In the order in which they begin.
    pub(crate) tags: Vec<Tag>,
    /// All text outside of `style`, references resolved; elements are a space apart.
    pub(crate) text: String,
}

/// Reads a page; the reason if it isn't well formed.
pub(crate) fn read(page: &str) -> Result<Page, String> {
    let mut rest = page.strip_prefix("<!DOCTYPE html>").ok_or("no doctype")?;
    let mut read = Page::default();
    let mut open: Vec<String> = Vec::new();
    while !rest.is_empty() {
        let Some(text) = rest.strip_prefix('<') else {
            let end = rest.find('<').unwrap_or(rest.len());
            if open.last().is_none_or(|it| it != "style") {
                read.text += &resolved(&rest[..end])?;
            }
            rest = &rest[end..];
            continue;
        };
        read.text.push(' ');
        if let Some(name) = text.strip_prefix('/') {
            let end = name.find('>').ok_or("an end without >")?;
            let closed = open.pop();
            if closed.as_deref() != Some(&name[..end]) {
                return Err(format!("{closed:?} is closed by {}", &name[..end]));
            }
            rest = &name[end + 1..];
            continue;
        }
        let (tag, closed, after) = tag(text)?;
        if !closed && !VOID.contains(&tag.name.as_str()) {
            open.push(tag.name.clone());
        }
        read.tags.push(tag);
        rest = after;
    }
    if open.is_empty() {
        Ok(read)
    } else {
        Err(format!("left open: {open:?}"))
    }
}

/// An element's beginning, whether it ends at once, and what comes after.
fn tag(text: &str) -> Result<(Tag, bool, &str), String> {
    let is_name = |it: char| it.is_ascii_alphanumeric() || it == '-' || it == ':';
    let end = text.find(|it| !is_name(it)).ok_or("a tag without end")?;
    if end == 0 {
        return Err(format!("a stray < before {:?}", text.get(..20)));
    }
    let name = text[..end].to_owned();
    let mut attributes: Vec<(String, String)> = Vec::new();
    let mut rest = &text[end..];
    loop {
        let begins = rest.trim_start();
        if let Some(after) = begins.strip_prefix("/>") {
            return Ok((Tag { name, attributes }, true, after));
        }
        if let Some(after) = begins.strip_prefix('>') {
            return Ok((Tag { name, attributes }, false, after));
        }
        let (key, value) = begins
            .split_once("=\"")
            .ok_or("an attribute without value")?;
        if key.is_empty() || !key.chars().all(is_name) {
            return Err(format!("attribute {key:?} of {name}"));
        }
        if attributes.iter().any(|it| it.0 == key) {
            return Err(format!("attribute {key} twice in {name}"));
        }
        let (value, after) = value.split_once('"').ok_or("a value without end")?;
        if value.contains('<') {
            return Err(format!("< within attribute {key}"));
        }
        attributes.push((key.to_owned(), resolved(value)?));
        rest = after;
    }
}

/// Text with its references resolved; only those that every reader knows.
fn resolved(text: &str) -> Result<String, String> {
    let mut parts = text.split('&');
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (name, after) = part.split_once(';').ok_or("a bare &")?;
        out.push(match name {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            other => return Err(format!("&{other};")),
        });
        out += after;
    }
    if out.contains('\u{0}') {
        Err("a null".to_owned())
    } else {
        Ok(out)
    }
}

#[test]
fn it_tells_right_from_wrong() {
    let wrap = |it: &str| format!("<!DOCTYPE html><html>{it}</html>");
    let good = read(&wrap(
        "<p class=\"a\">1 &lt; 2<br><svg><rect x=\"1\"/></svg></p>",
    ))
    .unwrap();
    assert_eq!(good.tags.len(), 5);
    assert!(good.text.contains("1 < 2"));
    for bad in [
        "<p>",
        "</p>",
        "<p><b></p></b>",
        "1 < 2",
        "a & b",
        "&nbsp;",
        "<p class=a></p>",
        "<p class=\"a\" class=\"b\"></p>",
        "<p class=\"<\"></p>",
    ] {
        assert!(read(&wrap(bad)).is_err(), "{bad}");
    }
    assert!(read("<html></html>").is_err());
}
