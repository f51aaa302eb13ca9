// A gate before a real broker: it passes bytes on, can cut every connection without a word, and can
// be a broker of the year 2014 that refuses MQTT 5 (Debian's mosquitto cannot be told to).
// Threading: on the loop it is given. Failure: an end that fails closes the other.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <memory>
#include <ostream>
#include <string>

namespace tubwarden {

class Gate {
 public:
  enum class Manner {
    pass,
    refuse_5_as_311,      ///< CONNACK in 3.1.1's form: "unacceptable protocol version"
    refuse_5_as_5,        ///< CONNACK in 5's form: reason 0x84
    refuse_subscriptions  ///< the broker's SUBACK comes through as "not authorized"
  };
  Gate(boost::asio::io_context& loop, std::uint16_t broker_port, Manner manner = Manner::pass);
  ~Gate();
  std::string url() const;
  int connects() const;  ///< seen so far
  int refused() const;   ///< of them for MQTT 5
  void cut();            ///< every connection, both ends, no DISCONNECT

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

/// A manner in the name of a test.
void PrintTo(Gate::Manner manner, std::ostream* out);

}  // namespace tubwarden
