// A program of nothing: it carries the headers that tests share, see CMakeLists.txt.
int main() {}
