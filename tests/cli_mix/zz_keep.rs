#[test]
#[ignore = "writes pictures to look at"]
fn keep() {
    let workshop = crate::letdowns::letdowns();
    for it in ["PR101", "PBk11", "PY42", "PW6"] {
        workshop
            .run(&format!("mix ladder {it} --png {it}.png --reference PY42"))
            .exits(0);
        std::fs::copy(
            workshop.path(&format!("{it}.png")),
            format!("/tmp/{it}.png"),
        )
        .unwrap();
    }
    println!(
        "{}",
        workshop
            .run("mix ladder PBk11 --reference PR101")
            .exits(0)
            .stdout
    );
    std::fs::create_dir_all("/tmp/mixlib").unwrap();
    std::fs::copy(
        workshop.path("swatches.sqlite"),
        "/tmp/mixlib/swatches.sqlite",
    )
    .unwrap();
}
