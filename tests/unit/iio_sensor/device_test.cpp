// Sensors of the kernel on a tree of files. Units are those of Linux,
// Documentation/ABI/testing/sysfs-bus-iio: temperature in milli degrees Celsius and humidity in
// milli percent after scale and offset; CO2 in percent, as drivers/iio/chemical/scd4x.c (scale
// 0.0001 of ppm) and scd30_core.c (0.000001 of a hundredth of a ppm) give it.
#include "iio_sensor/device.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/sensing/decode.hpp"
#include "parts/parts.hpp"

namespace tubwarden::iio {
namespace {

using testing::DoubleNear;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Optional;

class Tree : public testing::Test {
 protected:
  using Files = std::vector<std::pair<std::string, std::string>>;
  void sensor(const std::string& folder, const Files& files) const {
    for (const auto& [name, text] : files) tree_.write(folder + "/" + name, text + "\n");
  }
  Air read(const std::string& wanted) const {
    const auto device = find_device(tree_.path(), wanted);
    if (!device) throw std::runtime_error(device.error().text);
    return read_air(*device, [] {});
  }
  std::string why(const std::string& wanted) const {
    const auto device = find_device(tree_.path(), wanted);
    return device ? "it was found" : device.error().text;
  }
  const parts::TempFolder tree_;
};

const std::vector<std::pair<std::string, std::string>> kScd41 = {
    {"name", "scd41"},
    {"in_concentration_co2_raw", "842"},
    {"in_concentration_co2_scale", "0.000100"},
    {"in_humidityrelative_raw", "57000"},
    {"in_humidityrelative_scale", "1.525878906"},  // 100000 / 65536
    {"in_temp_raw", "23000"},
    {"in_temp_scale", "2.670288085"},  // 175000 / 65536
    {"in_temp_offset", "-16852.114286"}};

TEST_F(Tree, ReadsRawValuesByScaleAndOffset) {
  sensor("iio:device0", kScd41);
  const Air air = read("scd41");
  // The data sheet's own formulas: -45 + 175 x raw / 2^16, and 100 x raw / 2^16.
  EXPECT_THAT(air.temperature_c, Optional(DoubleNear(-45 + 175.0 * 23000 / 65536, 0.001)));
  EXPECT_THAT(air.humidity_pct, Optional(DoubleNear(100.0 * 57000 / 65536, 0.001)));
  EXPECT_THAT(air.co2_ppm, Optional(842.0));
  EXPECT_THAT(air.wrong, IsEmpty());
}

TEST_F(Tree, ReadsProcessedValuesAsTheyAre) {
  sensor("iio:device1", {{"name", "scd30"},
                         {"in_temp_input", "-1520"},
                         {"in_humidityrelative_input", "91230"},
                         {"in_concentration_co2_raw", "84250"},
                         {"in_concentration_co2_scale", "0.000001"},
                         {"in_temp_raw", "7"}});
  const Air air = read("scd30");
  EXPECT_THAT(air.temperature_c, Optional(-1.52));
  EXPECT_THAT(air.humidity_pct, Optional(91.23));
  EXPECT_THAT(air.co2_ppm, Optional(842.5));
  EXPECT_EQ(payload(air), R"({"humidity_pct":91.23,"temperature_c":-1.52,"co2_ppm":842.5})");
}

TEST_F(Tree, WritesWhatTheDaemonReads) {
  sensor("iio:device0", kScd41);
  const auto source = [](Quantity quantity, const char* at, SensorUnit unit, double high) {
    QuantitySource made;
    made.quantity = quantity;
    made.at = at;
    made.unit = unit;
    made.range_high = high;
    return made;
  };
  SensorPlan plan;
  plan.quantities = {source(Quantity::humidity, "/humidity_pct", SensorUnit::percent, 100),
                     source(Quantity::air_temperature, "/temperature_c", SensorUnit::celsius, 60),
                     source(Quantity::co2, "/co2_ppm", SensorUnit::ppm, 40000)};
  const Decoded decoded = decode(plan, payload(read("scd41")), std::nullopt);
  EXPECT_NEAR(decoded[Quantity::humidity].value, 86.975, 0.001);
  EXPECT_NEAR(decoded[Quantity::air_temperature].value, 16.416, 0.002);
  EXPECT_EQ(decoded[Quantity::co2].value, 842);
}

TEST_F(Tree, GivesWhatCanBeReadAndNamesTheRest) {
  sensor("iio:device0", {{"name", "bme280"},
                         {"in_temp_input", "17210"},
                         {"in_humidityrelative_input", "wet"},
                         {"in_concentration_co2_raw", "842"}});
  const Air air = read("bme280");
  EXPECT_EQ(payload(air), R"({"temperature_c":17.21})");
  EXPECT_THAT(air.wrong,
              ElementsAre(HasSubstr("in_humidityrelative_input says 'wet', not a number"),
                          HasSubstr("in_concentration_co2_scale: No such file")));
}

TEST_F(Tree, SaysThatADeviceIsNoSensorOfAir) {
  sensor("iio:device0", {{"name", "adc"}, {"in_voltage0_raw", "1"}});
  const Air air = read("adc");
  EXPECT_FALSE(air.any());
  EXPECT_THAT(air.wrong, ElementsAre(HasSubstr("has neither humidity, temperature nor CO2")));
  EXPECT_EQ(payload(air), "{}");
}

TEST_F(Tree, FindsADeviceByNameLabelOrFolder) {
  sensor("iio:device0", {{"name", "bme280"}, {"label", "left"}});
  sensor("iio:device1", {{"name", "bme280"}, {"label", "right"}});
  sensor("trigger0", {{"name", "left"}});
  EXPECT_EQ(find_device(tree_.path(), "right")->folder.filename(), "iio:device1");
  EXPECT_EQ(find_device(tree_.path(), "iio:device0")->label, "left");
  EXPECT_THAT(why("bme280"),
              HasSubstr("more than one sensor is 'bme280': give a label in the device tree, or the "
                        "folder; there are: iio:device0 'bme280' 'left', iio:device1"));
  EXPECT_THAT(why("scd41"), HasSubstr("no sensor is 'scd41'; there are: iio:device0"));
  EXPECT_EQ(find_device("/nowhere", "x").error().text,
            "no sensor is 'x'; /nowhere shows no sensor");
}

}  // namespace
}  // namespace tubwarden::iio
