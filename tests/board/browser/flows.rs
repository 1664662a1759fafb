//! What people do on the board, in a browser: with script and without.

use super::driver::Browser;
use super::*;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn the_equipment_manager_signs_in_takes_fixes_and_holds_without_script() {
    let scene = Scene::at_two().await;
    let browser = Browser::open(false).await;
    browser.look(390, 800, false).await;
    scene.sign_in(&browser, COLE).await;
    browser.waits_for("Fix list: 13").await;
    let plan = scene.stage.today().await.unwrap();
    let said = format!("Start by {} with 2 pairs of hands", plan.start_fixing.unwrap());
    let text = browser.text().await;
    assert!(text.contains(&said) && text.contains("Bring: ") && text.contains("pm Cole"), "{said}: {text}");

    browser.press("Take #64").await;
    browser.waits_for("Cole has it").await;
    browser.follow("#64 Connor").await;
    browser.waits_for("What was done").await;
    browser.choose("#done-1", "new chin strap").await;
    browser.press("Fixed").await;
    browser.waits_for("new chin strap by Cole").await;
    let connor =
        scene.stage.holders.iter().find(|holder| holder.labels.iter().any(|label| label == "#64 Connor")).unwrap();
    scene.pass(30).await;
    let last = scene.got(&connor.phone).pop().unwrap();
    assert!(last.contains("new chin strap"), "the athlete hears: {last}");

    browser.press("Take the helmet out of use").await;
    browser.waits_for("helmet out of use until staff have checked it").await;
    browser.follow("Today").await;
    browser.waits_for("Fix list: 13").await;
    assert!(browser.text().await.contains("#64 Connor"), "held again, and on the list again");

    browser.press("Sign out").await;
    browser.waits_for("We text a link to your number").await;
    browser.goto(&format!("{}/board", scene.base)).await;
    browser.waits_for("We text a link to your number").await;
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn what_happens_elsewhere_shows_within_a_second_and_the_trainers_page_only_offers_it() {
    let scene = Scene::at_two().await;
    let cole = Browser::open(true).await;
    scene.sign_in(&cole, COLE).await;
    cole.waits_for("Fix list: 13").await;
    // The page is shown, and listens.
    super::driver::moment(500).await;
    let start = std::time::Instant::now();
    scene.types(COLE, "got 47").await;
    cole.waits_for("Cole has it").await;
    let took = start.elapsed();
    assert!(took < std::time::Duration::from_millis(1_500), "a second, and the time to look: {took:?}");

    let ana = Browser::open(true).await;
    scene.sign_in(&ana, ANA).await;
    ana.goto(&format!("{}/board/trainer", scene.base)).await;
    ana.waits_for("Body reports: 1").await;
    super::driver::moment(500).await;
    scene.types(COLE, "got 29").await;
    ana.waits_for("Something changed. Show it").await;
    ana.press("I have it").await;
    ana.waits_for("Ana has it").await;
    cole.close().await;
    ana.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn the_coach_sees_who_is_out_and_not_the_trainers_page() {
    let scene = Scene::at_two().await;
    let browser = Browser::open(true).await;
    scene.sign_in(&browser, COACH).await;
    browser.waits_for("Availability").await;
    assert!(browser.text().await.contains("May not take part"));
    for page in ["/board/trainer", "/board", "/board/athlete/a1", "/board/messages", "/board/season"] {
        browser.goto(&format!("{}{page}", scene.base)).await;
        browser.waits_for("Your role does not open this page").await;
        assert!(!browser.text().await.contains("Parker"));
    }
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "in a browser: run by tests/pages.sh"]
async fn the_fix_list_prints_on_one_sheet_with_boxes_and_no_buttons() {
    let scene = Scene::at_two().await;
    let browser = Browser::open(true).await;
    scene.sign_in(&browser, COLE).await;
    browser.follow("Sheet for the door").await;
    browser.waits_for("Fix list").await;
    let (sheets, pdf) = browser.paper().await;
    assert_eq!(sheets, 1, "thirteen helmets are one sheet");
    if let Ok(folder) = std::env::var("BROWLINE_SHOTS") {
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(format!("{folder}/print.pdf"), pdf).unwrap();
    }
    browser.close().await;
}
