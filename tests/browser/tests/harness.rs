//! What a browser notices, answers and is told: held against pages of which it is known what is right.

mod desk;

use desk::Desk;
use masstone_browser::{Complaint, Key, Modifier, Outcome};
use serde_json::json;
use std::time::{Duration, Instant};

#[test]
fn a_page_in_order_has_nothing_to_complain_of() {
    let desk = Desk::new();
    desk.show("<p>Larch, two coats");
    let seen = desk.page.seen().unwrap();
    assert_eq!(seen.complaints, []);
    let asked: Vec<&str> = seen.requests.iter().map(|it| it.url.as_str()).collect();
    assert_eq!(asked[0], desk.site.url("page.html"));
    assert_eq!(seen.requests_beyond(&desk.site.url("")), Vec::<&str>::new());
    assert!(seen.failed_requests().is_empty(), "{seen:?}");
    assert_eq!(seen.requests[0].outcome, Outcome::Answered(200));
}

#[test]
fn errors_of_all_kinds_are_noticed() {
    let desk = Desk::new();
    desk.show(
        "<script>console.error('no hue', 3); console.log('fine')</script><script>throw new Error('too thick')</script>\
         <script>Promise.reject(new Error('never dried'))</script><script>alert('wet')</script><img src=none.png alt=''>",
    );
    let seen = desk.page.seen().unwrap();
    let has = |wanted: &dyn Fn(&Complaint) -> bool| {
        assert_eq!(
            seen.complaints.iter().filter(|it| wanted(it)).count(),
            1,
            "{seen:#?}"
        );
    };
    has(&|it| *it == Complaint::Console("no hue 3".into()));
    has(&|it| matches!(it, Complaint::Uncaught(it) if it.contains("too thick")));
    has(&|it| matches!(it, Complaint::Uncaught(it) if it.contains("never dried")));
    has(&|it| *it == Complaint::Dialog("wet".into()));
    has(&|it| matches!(it, Complaint::Log(it) if it.contains("404") && it.contains("none.png")));
    assert_eq!(seen.complaints.len(), 5, "{seen:#?}");
    assert_eq!(seen.failed_requests()[0].outcome, Outcome::Answered(404));

    desk.page.forget_seen().unwrap();
    assert_eq!(desk.page.seen().unwrap().complaints, []);
}

#[test]
fn what_a_policy_forbids_is_noticed() {
    let desk = Desk::new();
    desk.show_with(
        "<meta http-equiv=content-security-policy content=\"default-src 'none'\">",
        "<script>document.title = 'x'</script>\
         <img src=http://dye.example/a.png alt=''>",
    );
    let seen = desk.page.seen().unwrap();
    let policies: Vec<&str> = seen
        .complaints
        .iter()
        .filter_map(|it| {
            if let Complaint::Policy(it) = it {
                Some(it.as_str())
            } else {
                None
            }
        })
        .collect();
    assert_eq!(policies.len(), 2, "{seen:#?}");
    assert!(
        policies.iter().any(|it| it.starts_with("script-src")),
        "{policies:?}"
    );
    assert!(
        policies.contains(&"img-src: http://dye.example/a.png"),
        "{policies:?}"
    );
    assert_eq!(desk.ask("document.title"), "Boards");
}

#[test]
fn what_is_asked_of_others_is_listed_and_goes_nowhere() {
    let desk = Desk::new();
    desk.write(
        "frame.html",
        "<script>fetch('http://wood.example/frame').catch(() => {})</script>",
    );
    desk.show(
        "<link rel=stylesheet href=https://fonts.example/face.css><iframe src=frame.html></iframe>\
         <iframe src=http://other.example/></iframe><script>fetch('http://localhost:9/count').catch(() => {})</script>",
    );
    let seen = desk.page.seen().unwrap();
    let mut beyond = seen.requests_beyond(&desk.site.url(""));
    beyond.sort_unstable();
    assert_eq!(
        beyond,
        [
            "http://localhost:9/count",
            "http://other.example/",
            "http://wood.example/frame",
            "https://fonts.example/face.css",
        ]
    );
    for it in seen.failed_requests() {
        assert!(matches!(it.outcome, Outcome::Failed(_)), "{it:?}");
    }
    assert_eq!(seen.failed_requests().len(), 4);
}

#[test]
fn a_file_is_opened_without_a_server() {
    let desk = Desk::new();
    desk.write("file.html", "<!doctype html><title>From disk</title>");
    let url = format!("file://{}/file.html", desk.folder.path().display());
    desk.page.open(&url).unwrap();
    assert_eq!(desk.ask("document.title"), "From disk");
    assert_eq!(
        desk.page.seen().unwrap().requests_beyond("file://"),
        Vec::<&str>::new()
    );
    let error = desk
        .page
        .open("http://nowhere.example/")
        .unwrap_err()
        .to_string();
    assert!(error.contains("ERR_NAME_NOT_RESOLVED"), "{error}");
}

#[test]
fn keys_and_clicks_are_real_ones() {
    let desk = Desk::new();
    desk.show(
        "<button id=a onclick='log(event)'>A</button><label>Name <input id=name></label><div style='height: 2000px'></div>\
         <button id=low onclick='log(event)'>Low</button><a href=next.html>Next</a>\
         <div style='position: relative'><button id=under>Under</button><i style='position: absolute; inset: 0'></i></div>\
         <script>var trusted = []; function log(event) { trusted.push([event.target.id, event.isTrusted]) }</script>",
    );
    desk.write("next.html", "<!doctype html><title>Next</title>");
    let page = &desk.page;
    page.press(Key::Tab).unwrap();
    page.press(Key::Enter).unwrap();
    page.press(Key::Space).unwrap();
    page.press(Key::Tab).unwrap();
    page.type_text("Ochré 3").unwrap();
    assert_eq!(desk.ask("document.getElementById('name').value"), "Ochré 3");
    page.press(Key::Backspace).unwrap();
    page.press(Key::ArrowLeft).unwrap();
    page.type_text("!").unwrap();
    assert_eq!(desk.ask("document.getElementById('name').value"), "Ochré! ");
    page.press_with(&[Modifier::Shift], Key::Tab).unwrap();
    assert_eq!(desk.ask("document.activeElement.id"), "a");
    assert_eq!(
        desk.ask("document.activeElement.matches(':focus-visible')"),
        true
    );
    page.click("#low").unwrap();
    assert_eq!(
        desk.ask("trusted"),
        json!([["a", true], ["a", true], ["low", true]])
    );
    assert!(
        page.click("#under")
            .unwrap_err()
            .to_string()
            .contains("meets <i")
    );
    assert!(
        page.click("#none")
            .unwrap_err()
            .to_string()
            .contains("no element #none")
    );
    page.click("a").unwrap();
    page.wait_until("document.title == 'Next'").unwrap();
}

#[test]
fn answers_are_values_or_errors() {
    let desk = Desk::new();
    desk.show("");
    assert_eq!(
        desk.ask("Promise.resolve({a: [1, 'x', null]})"),
        json!({"a": [1, "x", null]})
    );
    assert_eq!(desk.ask("undefined"), json!(null));
    for (expression, says) in [
        ("0 / 0", "NaN has no JSON"),
        ("null.hue", "TypeError"),
        ("Promise.reject(new Error('no'))", "Error: no"),
        ("throw 1", "1 in: throw 1"),
        ("(", "SyntaxError"),
    ] {
        let error = desk.page.evaluate(expression).unwrap_err().to_string();
        assert!(error.contains(says), "{expression}: {error}");
    }
}

#[test]
fn a_page_without_scripts_can_be_asked() {
    let desk = Desk::new();
    desk.page.run_scripts(false).unwrap();
    desk.show("<noscript><p>Plain</p></noscript><script>document.title = 'x'</script>");
    assert_eq!(desk.ask("document.title"), "Boards");
    assert_eq!(
        desk.ask("document.querySelector('noscript p').textContent"),
        "Plain"
    );
}

#[test]
fn what_never_comes_is_given_up() {
    let desk = Desk::new();
    desk.show("");
    desk.page.give_up_after(Duration::from_millis(300));
    let start = Instant::now();
    let error = desk
        .page
        .evaluate("new Promise(() => {})")
        .unwrap_err()
        .to_string();
    assert!(error.contains("no answer within 0.3 s"), "{error}");
    assert!(start.elapsed() < Duration::from_secs(5));
    let error = desk.page.wait_until("false").unwrap_err().to_string();
    assert!(error.contains("not within 0.3 s: false"), "{error}");
    // And the page can still be asked.
    assert_eq!(desk.ask("1 + 1"), 2);
}
