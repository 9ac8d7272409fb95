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
        const TemporaryFolder& folder, std::function<Result<void>(Observer&)> work = [](Observer&) { return Result<void>(); }) {
        ReviewOptions options;
        options.folder = folder.path().string();
        options.token = kToken;
        ReviewHooks hooks;
        hooks.picture = [](const std::string& scan, PxRect part, int long_side) -> Result<std::string> {
            return scan + " " + std::to_string(part.width()) + " " + std::to_string(long_side);
        };
        hooks.run_again = std::move(work);
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
