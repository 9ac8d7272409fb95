// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/read_ledger.h"

#include "ledger/constants.h"
#include "ledger/draft.h"
#include "ledger/light.h"
#include "ledger/light_fields.h"
#include "ledger/nearest.h"
#include "ledger/print_fields.h"
#include "ledger/text_checks.h"
#include "ledger/toml_document.h"

#include <fmt/format.h>
#include <algorithm>
#include <filesystem>
#include <functional>
#include <map>

namespace basefog {
namespace ledger_room {
namespace {

// Chosen ranges: see constants.h for the idea.
constexpr Range kSpeed{0.1, 102400, "", "200"};
constexpr Range kMired{-300, 300, "mired", "131"};
constexpr Range kLitres{0.05, 1000, "litres", "1.0"};
constexpr Range kCapacity{1, 10000, "rolls", "12"};
constexpr Range kGramsPerLitre{0.1, 1000, "g/l", "10"};
constexpr Range kWashCelsius{0, 60, "°C", "40"};
constexpr Range kDeveloperCelsius{10, 60, "°C", "38"};
constexpr Range kSoakMinutes{0, 120, "minutes", "2"};
constexpr Range kDeveloperMinutes{0.1, 120, "minutes", "3.25"};
constexpr Range kRinses{0, 50, "", "4"};
constexpr Range kReel{1, 20, "", "1"};

std::optional<Celsius> celsius(std::optional<double> number) { return number ? std::optional(Celsius(*number)) : std::nullopt; }

StockKind stock_kind(Fields& fields) {
    const auto text = fields.text("kind", "\"colour negative\"");
    if (!text) return StockKind::colour_negative;
    std::string word = ascii_lower(text->text);
    for (char& c : word) c = c == '-' || c == '_' ? ' ' : c;
    if (word == "colour negative" || word == "color negative") return StockKind::colour_negative;
    if (word == "black and white") return StockKind::black_and_white;
    fields.problems().add(text->place, fmt::format("\"kind\" of {} is {}", fields.owner(), in_quotes(text->text)),
                          "write \"colour negative\" or \"black and white\"");
    return StockKind::colour_negative;
}

double filter_mired(Fields& fields) {
    const toml::node* node = fields.any("filter");
    if (!node) return 0;
    if (!node->is_string()) {
        if (node->is_number()) return fields.number_in("filter", *node, kMired).value_or(0);
        fields.wrong_type("filter", *node, "a filter in quotes or a number of mired", "\"85B\" or 131");
        return 0;
    }
    const std::string& name = node->as_string()->get();
    const auto mired = name.empty() ? std::optional(0.0) : filter_by_name(name);
    if (!mired) {
        fields.wrong_value("filter", *node, fmt::format("is {}, which names no known filter", in_quotes(name)),
                           suggestion(name, filter_names(), "filters") + " (or write its mired shift, positive when it warms: filter = 131)");
    } else if (!(*mired >= kMired.low && *mired <= kMired.high)) {
        fields.wrong_value("filter", *node, fmt::format("is {}, which adds up to {} mired, outside {} to {}", in_quotes(name), *mired, kMired.low, kMired.high),
                           "name only what was on the lens");
    }
    return mired.value_or(0);
}

void refer(Draft& draft, Referred kind, const std::optional<Named>& id, const Fields& owner) {
    if (id) draft.references.push_back({kind, *id, owner.owner()});
}
std::string id_of(const std::optional<Named>& named) { return named ? named->text : std::string(); }

void read_stock(Fields& fields, const std::string& id, Draft& draft) {
    Stock stock;
    stock.id = id;
    stock.kind = stock_kind(fields);
    stock.box_speed = fields.number("box_speed", kSpeed);
    stock.balance = colour_temperature(fields, "balance");
    stock.own_process = fields.plain_text("own_process", "\"ECN-2\"");
    stock.expiry = fields.date_or_month("expiry");
    draft.ledger.stocks.push_back(std::move(stock));
}

void read_bath(Fields& fields, const std::string& id, Draft& draft) {
    Bath bath;
    bath.id = id;
    bath.kind = fields.plain_text("kind", "\"stills colour developer, 1 litre kit\"");
    bath.volume_litres = fields.number("volume_litres", kLitres);
    bath.mixed_on = fields.date("mixed_on");
    bath.good_for_rolls = fields.whole("good_for_rolls", kCapacity);
    draft.ledger.baths.push_back(std::move(bath));
}

std::optional<BackingWash> read_wash(Fields& session) {
    const toml::table* table = session.table("wash", "wash = { agent = \"sodium carbonate\", grams_per_litre = 10 }");
    if (!table) return std::nullopt;
    Fields fields(*table, "the wash of " + session.owner(), place_of(*table), session.problems());
    BackingWash wash;
    wash.agent = fields.plain_text("agent", "\"sodium carbonate\"");
    wash.grams_per_litre = fields.number("grams_per_litre", kGramsPerLitre);
    wash.temperature = celsius(fields.number("temperature_c", kWashCelsius));
    wash.soak_minutes = fields.minutes("soak_minutes", kSoakMinutes);
    wash.rinses = fields.whole("rinses", kRinses);
    fields.reject_unknown();
    return wash;
}

/// Tanks of sessions, for their rolls that name none of their own.
using Tanks = std::vector<std::pair<std::string, std::string>>;

void read_session(Fields& fields, const std::string& id, Draft& draft, Tanks& tanks) {
    Session session;
    session.id = id;
    const toml::node* date = fields.any("date");
    session.date = fields.date("date");
    const auto bath = fields.text("bath", "\"dev-a\"");
    refer(draft, Referred::bath, bath, fields);
    session.bath = id_of(bath);
    session.wash = read_wash(fields);
    session.developer_minutes = fields.minutes("developer_minutes", kDeveloperMinutes);
    session.developer_temperature = celsius(fields.number("developer_temperature_c", kDeveloperCelsius));
    session.process = fields.plain_text("process", "\"C-41\"");
    const std::string tank = fields.plain_text("tank", "\"two-reel tank\"");
    if (!tank.empty()) tanks.emplace_back(id, tank);
    draft.session_dates.push_back(date ? place_of(*date) : fields.place());
    draft.ledger.sessions.push_back(std::move(session));
}

void read_roll(Fields& fields, const std::string& id, Draft& draft) {
    Roll roll;
    roll.id = id;
    const auto stock = fields.text("stock", "\"t500\"");
    const auto session = fields.text("session", "\"s1\"");
    refer(draft, Referred::stock, stock, fields);
    refer(draft, Referred::session, session, fields);
    roll.stock = id_of(stock);
    roll.session = id_of(session);
    roll.rating = fields.number("rating", kSpeed);
    roll.light = colour_temperature(fields, "light");
    roll.filter_mired = filter_mired(fields);
    roll.tank = fields.plain_text("tank", "\"two-reel tank\"");
    roll.reel = fields.whole("reel", kReel);
    roll.note = fields.note("note");
    roll.frames = read_frames(fields);
    roll.print = read_print(fields, PrintOf::roll);
    draft.ledger.rolls.push_back(std::move(roll));
}

using ReadOne = std::function<void(Fields&, const std::string& id)>;

/// Every [kind.NAME] in the order of the text.
void read_named(Fields& root, const std::string& kind, Draft& draft, Problems& problems, const ReadOne& read_one) {
    const std::string example = fmt::format("[{}.{}]", kind, "NAME");
    const toml::table* all = root.table(kind, example);
    if (!all) return;
    for (const Entry& entry : entries_in_order(*all)) {
        if (!check_name(entry.name, fmt::format("a {}'s name", kind), entry.place, problems)) continue;
        const std::string owner = fmt::format("{} {}", kind, in_quotes(entry.name));
        if (!entry.value->is_table()) {
            problems.add(entry.place, fmt::format("{} is {}, but must be a table", owner, type_in_words(*entry.value)),
                         fmt::format("write [{}.NAME] on a line of its own and the keys below it", kind));
            continue;
        }
        Fields fields(*entry.value->as_table(), owner, entry.place, problems);
        draft.given.push_back({owner, entry.place});
        read_one(fields, entry.name);
        fields.reject_unknown();
    }
}

void share_tanks(const Tanks& tanks, std::vector<Roll>& rolls) {
    for (Roll& roll : rolls) {
        if (!roll.tank.empty()) continue;
        for (const auto& [session, tank] : tanks) {
            if (session == roll.session) roll.tank = tank;
        }
    }
}

/// Other ledgers this one takes in: one name, or a list.
void read_includes(Fields& root, Draft& draft, Problems& problems) {
    const toml::node* node = root.any("include");
    if (!node) return;
    const std::string right = "for example include = [\"2025.toml\", \"2026.toml\"]";
    const auto add = [&](const toml::node& item) {
        const auto* text = item.as_string();
        if (!text || text->get().empty()) {
            problems.add(place_of(item), fmt::format("\"include\" holds {}, but must name files", type_in_words(item)), right);
            return;
        }
        const auto path = (std::filesystem::path(draft.ledger.path).parent_path() / text->get()).lexically_normal();
        draft.includes.push_back({path.string(), place_of(item)});
    };
    if (const toml::array* list = node->as_array()) {
        for (const toml::node& item : *list) add(item);
    } else {
        add(*node);
    }
}

struct OneFile {
    std::string path;
    Draft draft;
    Problems problems;
};

Result<OneFile> read_one_file(const std::string& text, const std::string& path) {
    const auto document = parse_toml(text, path);
    if (!document) return Failure(document.error());
    OneFile file;
    file.path = path;
    Draft& draft = file.draft;
    Problems& problems = file.problems;
    draft.ledger.path = path;
    Tanks tanks;
    Fields root(*document, "the ledger", {}, problems);
    read_includes(root, draft, problems);
    read_named(root, "stock", draft, problems, [&](Fields& fields, const std::string& id) { read_stock(fields, id, draft); });
    read_named(root, "bath", draft, problems, [&](Fields& fields, const std::string& id) { read_bath(fields, id, draft); });
    read_named(root, "session", draft, problems, [&](Fields& fields, const std::string& id) { read_session(fields, id, draft, tanks); });
    read_named(root, "roll", draft, problems, [&](Fields& fields, const std::string& id) { read_roll(fields, id, draft); });
    if (auto read = read_notebooks(root, draft, problems); !read) return Failure(std::move(read.error()));
    read_sheets(root, draft, problems);
    read_shots(root, draft, problems);
    root.reject_unknown();
    share_tanks(tanks, draft.ledger.rolls);
    return file;
}

/// The file and all it takes in, each once, those taken in first. So two that name each other do no harm.
Result<void> load(const std::string& text, const std::string& path, std::vector<std::string>& seen, std::vector<OneFile>& files) {
    std::error_code ignored;
    seen.push_back(std::filesystem::weakly_canonical(path, ignored).string());
    auto file = read_one_file(text, path);
    if (!file) return Failure(std::move(file.error()));
    for (const Named& include : file->draft.includes) {
        const std::string canonical = std::filesystem::weakly_canonical(include.text, ignored).string();
        if (std::find(seen.begin(), seen.end(), canonical) != seen.end()) continue;
        if (seen.size() >= kMostFiles) {
            file->problems.add(include.place, fmt::format("more than {} ledgers are taken in", kMostFiles), "join some of them");
            break;
        }
        const auto included = read_text_file(include.text);
        if (!included) {
            file->problems.add(include.place, fmt::format("\"include\" names {}, which cannot be read: {}", in_quotes(include.text), included.error().what),
                               "file names count from this ledger's folder");
            continue;
        }
        if (auto loaded = load(*included, include.text, seen, files); !loaded) return loaded;
    }
    files.push_back(std::move(*file));
    return {};
}

template <class T>
void append(std::vector<T>& all, const std::vector<T>& more) {
    all.insert(all.end(), more.begin(), more.end());
}

/// One ledger of all files; a name or a scan may stand in one of them only.
Ledger join(std::vector<OneFile>& files) {
    Ledger all;
    std::map<std::string, std::string> given, sheets;
    for (OneFile& file : files) {
        const Ledger& own = file.draft.ledger;
        append(all.stocks, own.stocks);
        append(all.baths, own.baths);
        append(all.sessions, own.sessions);
        append(all.rolls, own.rolls);
        append(all.sheets, own.sheets);
        for (const Given& name : file.draft.given)
            if (const auto [at, fresh] = given.emplace(name.owner, file.path); !fresh && at->second != file.path)
                file.problems.add(name.place, fmt::format("{} is already in {}", name.owner, at->second),
                                  "a name may stand once in all ledgers together: rename one");
        for (std::size_t i = 0; i < own.sheets.size(); ++i)
            if (const auto [at, fresh] = sheets.emplace(own.sheets[i].path, file.path); !fresh && at->second != file.path)
                file.problems.add(file.draft.sheet_files[i], fmt::format("sheet {} is already described in {}", in_quotes(own.sheets[i].file), at->second),
                                  "keep one of the two");
    }
    return all;
}

}  // namespace
}  // namespace ledger_room

Result<Ledger> parse_ledger(const std::string& text, const std::string& path) {
    using namespace ledger_room;
    std::vector<std::string> seen;
    std::vector<OneFile> files;
    if (auto loaded = load(text, path, seen, files); !loaded) return Failure(std::move(loaded.error()));
    Ledger all = join(files);
    all.path = path;
    for (OneFile& file : files) {
        cross_check(file.draft, all, file.problems);
        if (!file.problems.empty()) return Failure(file.problems.to_error(file.path));
    }
    return all;
}

Result<Ledger> read_ledger(const std::string& path) {
    const auto text = ledger_room::read_text_file(path);
    if (!text) return Failure(text.error());
    return parse_ledger(*text, path);
}

}  // namespace basefog
