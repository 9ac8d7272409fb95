// SPDX-License-Identifier: GPL-3.0-or-later
// The page's server as a browser, another page, another program or another machine would meet it.
#include "basefog/review/serve.h"
#include "review/results.h"

#include <httplib.h>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <atomic>
#include <chrono>
#include <future>
#include <thread>

using namespace basefog;
using Json = nlohmann::json;

namespace {

constexpr const char* kToken = "0123456789abcdef0123456789abcdef";
constexpr auto kPatience = std::chrono::seconds(30);  // a laden machine's

class Stopped : public Observer {
public:
    [[nodiscard]] bool cancelled() const override { return stop; }
    std::atomic<bool> stop = false;
};

/// A server on a results folder, for as long as it is in scope.
class Served {
public:
    explicit Served(
        const TemporaryFolder& folder, std::function<Result<void>(Observer&)> work = [](Observer&) { return Result<void>(); },
        std::function<Result<void>(Observer&)> prepare = {}) {
        ReviewOptions options;
        options.folder = folder.path().string();
        options.token = kToken;
        ReviewHooks hooks;
        hooks.picture = [](const std::string& scan, PxRect part, int long_side) -> Result<std::string> {
            return scan + " " + std::to_string(part.width()) + " " + std::to_string(long_side);
        };
        hooks.run_again = std::move(work);
        hooks.prepare_proofs = std::move(prepare);
        hooks.proof = [](const ProofWish& wish) -> Result<Proof> {
            if (wish.print.exposure == Stops(9)) return fail(ErrorCode::usage, "there is nothing there", wish.scan);
            Proof proof;
            proof.jpeg = wish.scan + (wish.exact ? " exact " : " quick ") + std::to_string(wish.print.exposure.value());
            proof.balance = {Stops(0.5), Stops(-0.5), Stops(0)};
            proof.note = "A note.";
            return proof;
        };
        std::promise<std::string> ready;
        auto address = ready.get_future();
        thread_ = std::thread(
            [this, options, hooks, &ready] { outcome_ = serve_review(options, hooks, observer_, [&](const std::string& where) { ready.set_value(where); }); });
        REQUIRE(address.wait_for(kPatience) == std::future_status::ready);
        const std::string url = address.get();
        REQUIRE(url.rfind("http://127.0.0.1:", 0) == 0);
        port = std::stoi(url.substr(17));
        CHECK(url.find(kToken) != std::string::npos);
    }
    ~Served() {
        observer_.stop = true;
        thread_.join();
    }
    [[nodiscard]] httplib::Client client() const { return httplib::Client("127.0.0.1", port); }
    [[nodiscard]] httplib::Headers headers() const { return {{"X-Basefog-Token", kToken}, {"X-Basefog-Page", "one"}}; }
    int port = 0;

private:
    Stopped observer_;
    Result<void> outcome_;
    std::thread thread_;
};

int status_of(const httplib::Result& result) {
    REQUIRE(result);
    return result->status;
}

}  // namespace

TEST_CASE("the page answers its own browser, under a policy that allows nothing else") {
    const TemporaryFolder folder;
    write_results(folder);
    const Served served(folder);
    httplib::Client client = served.client();
    const auto page = client.Get(std::string("/?token=") + kToken);
    REQUIRE(status_of(page) == 200);
    const std::string policy = page->get_header_value("Content-Security-Policy");
    for (const char* rule : {"default-src 'none'", "connect-src 'self'", "frame-ancestors 'none'", "form-action 'none'", "base-uri 'none'"})
        CHECK(policy.find(rule) != std::string::npos);
    CHECK(policy.find("unsafe") == std::string::npos);
    CHECK(page->get_header_value("Cache-Control") == "no-store");
    CHECK_FALSE(page->has_header("Access-Control-Allow-Origin"));
    CHECK(page->body.find("http:") == page->body.find("http://www.w3.org/2000/svg"));
    CHECK(status_of(client.Get("/state?page=one", served.headers())) == 200);
    const auto picture = client.Get("/picture?sheet=1&x0=10&y0=10&x1=60&y1=40&long=200", served.headers());
    REQUIRE(status_of(picture) == 200);
    CHECK(picture->body == "harbour-2.tif 50 200");
    CHECK(client.Get("/file?path=proofs%2FR1-01.jpg", served.headers())->body == sample::picture_bytes(1));
}

TEST_CASE("a wrong token, a foreign origin, another host's name and other pages are refused, for reading and for writing") {
    const TemporaryFolder folder;
    write_results(folder);
    const Served served(folder);
    httplib::Client client = served.client();
    const auto with = [&](const char* name, const std::string& value) {
        httplib::Headers headers = served.headers();
        headers.erase(name);
        headers.emplace(name, value);
        return headers;
    };
    const std::string own = "http://127.0.0.1:" + std::to_string(served.port);
    const std::vector<httplib::Headers> refused{{},
                                                with("X-Basefog-Token", "0123456789abcdef0123456789abcdee"),
                                                with("X-Basefog-Token", ""),
                                                with("Origin", "http://elsewhere.invalid"),
                                                with("Origin", "null"),
                                                with("Origin", "http://127.0.0.1:1"),
                                                with("Host", "elsewhere.invalid:" + std::to_string(served.port)),
                                                with("Host", "127.0.0.1:1"),
                                                with("Sec-Fetch-Site", "cross-site"),
                                                with("Sec-Fetch-Site", "same-site")};
    for (const httplib::Headers& headers : refused) {
        for (const char* path : {"/", "/state?page=one", "/watch?page=one", "/picture?sheet=0", "/file?path=proofs%2FR1-01.jpg", "/no-such"})
            CHECK(status_of(client.Get(path, headers)) == 403);
        for (const char* path : {"/save", "/run"}) CHECK(status_of(client.Post(path, headers, "{}", "application/json")) == 403);
    }
    // A token in the address is enough to look, never to change anything: a form elsewhere could carry it.
    CHECK(status_of(client.Get(std::string("/state?page=one&token=") + kToken)) == 200);
    CHECK(status_of(client.Post((std::string("/run?token=") + kToken).c_str(), "{}", "application/json")) == 403);
    CHECK(status_of(client.Get("/state?page=one", with("Origin", own))) == 200);
    CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
}

TEST_CASE("paths that lead out of the folder are refused") {
    const TemporaryFolder folder;
    write_results(folder);
    put_file((folder.path().parent_path() / "basefog-review-outside.jpg").string(), "x");
    const Served served(folder);
    httplib::Client client = served.client();
    for (const char* path : {"..%2Fbasefog-review-outside.jpg", "%2Fetc%2Fpasswd", "proofs%2F..%2F..%2Fbasefog-review-outside.jpg", "report.json", ""})
        CHECK(status_of(client.Get((std::string("/file?path=") + path).c_str(), served.headers())) == 403);
    CHECK(status_of(client.Get("/../basefog-review-outside.jpg", served.headers())) == 404);
    std::filesystem::remove(folder.path().parent_path() / "basefog-review-outside.jpg");
}

TEST_CASE("the page opened last may save, and the one before it is told") {
    const TemporaryFolder folder;
    write_results(folder);
    const Served served(folder);
    httplib::Client client = served.client();
    const Json first = Json::parse(client.Get("/state?page=one", served.headers())->body);
    const Json second = Json::parse(client.Get("/state?page=two", served.headers())->body);
    const auto save = [&](const char* page, const Json& state) {
        const Json body{{"page", page}, {"revision", state["revision"]}, {"sheets", state["sheets"]}};
        return status_of(client.Post("/save", served.headers(), body.dump(), "application/json"));
    };
    CHECK(save("one", first) == 409);
    CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
    CHECK(Json::parse(client.Get("/watch?page=one", served.headers())->body)["mine"] == false);
    CHECK(save("two", second) == 200);
    CHECK(save("two", second) == 409);  // its revision is behind now
    CHECK(Json::parse(client.Get("/watch?page=two", served.headers())->body)["stale"] == false);
    put_file(folder.file("layout.toml"), file_content(folder.file("layout.toml")) + "#\n");
    CHECK(Json::parse(client.Get("/watch?page=two", served.headers())->body)["stale"] == true);
    for (const char* body :
         {"", "[]", "{}", "{\"page\":\"two\"}", "{\"page\":1,\"revision\":1,\"sheets\":[]}", "{\"page\":\"two\",\"revision\":\"x\",\"sheets\":[]}"})
        CHECK(status_of(client.Post("/save", served.headers(), body, "application/json")) == 422);
}

TEST_CASE("the run is made again once at a time, and what went wrong with it is told") {
    const TemporaryFolder folder;
    write_results(folder);
    std::atomic<int> runs = 0;
    std::atomic<bool> go = false;
    const Served served(folder, [&](Observer& observer) -> Result<void> {
        ++runs;
        observer.progress("measuring", 1, 4);
        while (!go && !observer.cancelled()) std::this_thread::sleep_for(std::chrono::milliseconds(5));
        if (runs == 2) return fail(ErrorCode::unwritable, "the disk is full");
        return {};
    });
    httplib::Client client = served.client();
    (void)client.Get("/state?page=one", served.headers());
    const auto run_state = [&] { return Json::parse(client.Get("/watch?page=one", served.headers())->body)["run"]; };
    const auto await = [&](const char* state) {
        const auto end = std::chrono::steady_clock::now() + kPatience;
        while (run_state()["state"] != state && std::chrono::steady_clock::now() < end) std::this_thread::sleep_for(std::chrono::milliseconds(10));
        return run_state();
    };
    CHECK(status_of(client.Post("/run", served.headers(), "", "application/json")) == 200);
    CHECK(status_of(client.Post("/run", served.headers(), "", "application/json")) == 409);
    go = true;
    CHECK(await("done")["state"] == "done");
    CHECK(status_of(client.Post("/run", served.headers(), "", "application/json")) == 200);
    const Json failed = await("failed");
    CHECK(failed["message"].get<std::string>().find("the disk is full") != std::string::npos);
    CHECK(runs == 2);
}

TEST_CASE("proofs are given once the sheets are measured, and measured anew after a run") {
    const TemporaryFolder folder;
    write_results(folder);
    std::atomic<int> measured = 0;
    std::atomic<bool> go = false;
    const Served served(
        folder, [](Observer&) { return Result<void>(); },
        [&](Observer& observer) -> Result<void> {
            while (!go && !observer.cancelled()) std::this_thread::sleep_for(std::chrono::milliseconds(5));
            ++measured;
            return {};
        });
    httplib::Client client = served.client();
    (void)client.Get("/state?page=one", served.headers());
    const Json wish = {{"sheet", 1}, {"corners", {{0, 0}, {9, 0}, {9, 6}, {0, 6}}}, {"print", {{"exposure", 0.5}}}, {"exact", false}, {"long", 800}};
    const auto ask = [&](const Json& body) { return client.Post("/proof", served.headers(), body.dump(), "application/json"); };
    const auto await = [&](int times) {
        const auto end = std::chrono::steady_clock::now() + kPatience;
        const auto state = [&] { return Json::parse(client.Get("/watch?page=one", served.headers())->body)["measuring"]["state"]; };
        while ((measured < times || state() != "done") && std::chrono::steady_clock::now() < end) std::this_thread::sleep_for(std::chrono::milliseconds(10));
        CHECK(state() == "done");
    };
    const auto none = [&](const Json& body) {
        const auto answer = ask(body);
        CHECK(status_of(answer) == 200);
        return Json::parse(answer->body);
    };
    CHECK(none(wish)["measuring"] == true);
    go = true;
    await(1);
    const auto proof = ask(wish);
    REQUIRE(status_of(proof) == 200);
    CHECK(proof->body == "harbour-2.tif quick 0.500000");
    CHECK(proof->get_header_value("X-Basefog-Balance") == "0.500000,-0.500000,0.000000");
    CHECK(proof->get_header_value("X-Basefog-Note") == "A note.");
    const auto with = [&](const char* key, const Json& value) {
        Json changed = wish;
        changed[key] = value;
        return status_of(ask(changed));
    };
    CHECK(with("sheet", 9) == 404);
    CHECK(with("sheet", -1) == 404);
    CHECK(with("corners", {{0, 0}}) == 422);
    CHECK(with("print", {{"exposure", 1e9}}) == 422);
    CHECK(with("print", 3) == 422);
    CHECK(with("long", 1e9) == 422);
    Json missing = wish;
    missing["print"]["exposure"] = 9;
    CHECK(none(missing)["none"].get<std::string>().find("there is nothing there") != std::string::npos);
    CHECK(status_of(client.Post("/proof", served.headers(), "[", "application/json")) == 404);
    httplib::Headers foreign = served.headers();
    foreign.emplace("Origin", "http://elsewhere.invalid");
    CHECK(status_of(client.Post("/proof", foreign, wish.dump(), "application/json")) == 403);
    CHECK(status_of(client.Post(("/proof?token=" + std::string(kToken)).c_str(), httplib::Headers{}, wish.dump(), "application/json")) == 403);
    CHECK(status_of(client.Post("/run", served.headers(), "", "application/json")) == 200);
    await(2);
    CHECK(measured == 2);
    CHECK(status_of(ask(wish)) == 200);
}
