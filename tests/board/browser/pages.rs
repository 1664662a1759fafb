//! Every page at two widths, light and dark: axe-core has nothing against it, and nothing is wider than a small phone.

use super::driver::Browser;
use super::*;

/// Pages with who opens them, and a word that has to be on them.
const PAGES: &[(&str, &str, &str)] = &[
    ("/board", COLE, "Fix list: 13"),
    ("/board/silent", COLE, "Check at the door"),
    ("/board/print", COLE, "Fix list"),
    ("ATHLETE", COLE, "Fit history"),
    ("/board/messages", COLE, "Numbers that get nothing"),
    ("/board/season", COLE, "Minutes to fix"),
    ("/board/settings", COLE, "Time zone"),
    ("/board/drills", COLE, "Record a drill"),
    ("/board/kits", COLE, "Sideline kit"),
    ("/board/orders", COLE, "One list for all kits"),
    ("/board/helmets", COLE, "Plan of batches"),
    ("/board/coming", COLE, "In your own calendar"),
    ("/board/welcome", COLE, "Hello"),
    ("/board/trainer", COLE, "does not open"),
    ("/board/athlete/nobody", COLE, "No such athlete"),
    ("/board", ANA, "Athletic trainer"),
    ("/board/trainer", ANA, "Replies to make sense of"),
    ("BODY", ANA, "Replies"),
    ("/board/clearance", ANA, "A licensed clinician decides"),
    ("WAY", ANA, "needs a determination"),
    ("/board/families", ANA, "Have not agreed to texts"),
    ("/board/availability", COACH, "May not take part"),
    ("/board/messages", DENISE, "Newest messages"),
];

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn axe_core_has_nothing_against_any_page() {
    let axe = std::env::var("BROWLINE_AXE").expect("BROWLINE_AXE is not set: run tests/pages.sh");
    let axe = std::fs::read_to_string(axe).unwrap();
    let scene = Scene::at_two().await;
    // Something fixed, so that the season has minutes and the athlete a history; something hard to read for the trainer.
    scene.types(COLE, "got 64").await;
    scene.stage.clock.advance(chrono::TimeDelta::minutes(4));
    scene.types(COLE, "64 done new strap").await;
    let browser = Browser::open(true).await;
    let mut complaints = Vec::new();
    check(&browser, &axe, &format!("{}/sign-in", scene.base), "We text a link", "sign-in", &mut complaints).await;
    let gone = format!("{}/sign-in/larkspur/x", scene.base);
    check(&browser, &axe, &gone, "no longer works", "link-gone", &mut complaints).await;
    let mut signed_in = "";
    for (page, who, word) in PAGES {
        if *who != signed_in {
            scene.sign_in(&browser, who).await;
            signed_in = who;
        }
        let path = match *page {
            "ATHLETE" => athlete_page(&scene, "#54").await,
            "WAY" => {
                let athlete = athlete_page(&scene, "#71").await.replace("/board/athlete/", "");
                open_way(&scene, &athlete).await;
                format!("/board/clearance/{athlete}")
            }
            "BODY" => athlete_page(&scene, "#71").await,
            page => page.to_owned(),
        };
        let word = if *page == "/board" && *who == COLE { "Fix list: 12" } else { word };
        let name = format!("{}-{}", page.trim_start_matches('/').replace('/', "-"), &who[2..5]);
        check(&browser, &axe, &format!("{}{path}", scene.base), word, &name, &mut complaints).await;
    }
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
    browser.close().await;
}

async fn open_way(scene: &Scene, athlete: &str) {
    use browline::desk::clearance::record::Act;
    let desk = &scene.stage.desk;
    let (program, now) = (scene.stage.program().id.clone(), scene.stage.clock.now());
    let staff = desk.store().read().await.unwrap().staff(&program).await.unwrap();
    let ana = staff.into_iter().find(|member| member.first == "Ana").unwrap();
    let act = Act::Open {
        category: Some("evaluated on the field".into()),
        progression: Some("concussion".into()),
        check_in: true,
    };
    let athlete = browline::trade::roster::AthleteId::from(athlete);
    desk.record_way(&program, &ana, (&athlete, &act), "opened", now).await.unwrap().unwrap();
}

/// The checker itself finds what is wrong: a page with a fault in it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn axe_core_finds_a_fault_that_is_there() {
    let axe = std::fs::read_to_string(std::env::var("BROWLINE_AXE").expect("run tests/pages.sh")).unwrap();
    let browser = Browser::open(true).await;
    let page = "<html lang=en><title>x</title><main><h1>x</h1><p style='color:%23bbb;background:%23fff'>pale</p><input><ul><li>a</ul>\
                <a href=x>x</a><table><tr><th scope=col>a<tr><td>b</table><button>b</button><img src=x alt=y></main>";
    browser.goto(&format!("data:text/html,{page}")).await;
    let complaints = browser.complaints(&axe).await.join("\n");
    assert!(complaints.contains("color-contrast") && complaints.contains("label"), "{complaints}");
    browser.close().await;
}

async fn check(browser: &Browser, axe: &str, address: &str, word: &str, name: &str, complaints: &mut Vec<String>) {
    for (size, width, height) in [("phone", 320, 640), ("desktop", 1280, 900)] {
        for dark in [false, true] {
            browser.look(width, height, dark).await;
            browser.goto(address).await;
            browser.waits_for(word).await;
            let shade = if dark { "dark" } else { "light" };
            let found = browser.complaints(axe).await;
            complaints.extend(found.into_iter().map(|one| format!("{name} {size} {shade}: {one}")));
            if browser.overflows().await {
                complaints.push(format!("{name} {size} {shade}: wider than its window"));
            }
            browser.shot(&format!("{name}-{size}-{shade}")).await;
        }
    }
}

async fn athlete_page(scene: &Scene, jersey: &str) -> String {
    let today = scene.stage.today().await.unwrap();
    let fix = today.fix_list.iter().map(|row| (row.who.as_str(), row.athlete.clone().unwrap()));
    let held = today.held.iter().map(|row| (row.who.as_str(), row.athlete.clone()));
    let (_, athlete) = fix.chain(held).find(|(who, _)| who.starts_with(jersey)).unwrap();
    format!("/board/athlete/{athlete}")
}
