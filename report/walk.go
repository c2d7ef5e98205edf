package report

import (
	"fmt"
	"reflect"
	"strings"
)

// Walk calls visit for every scalar of the record that was determined (numbers,
// texts, answers), with its key in the JSON form, such as
// "pairs[2].rmsd_m". It stops at the first error.
func Walk(rec *Record, visit func(key string, v reflect.Value) error) error {
	return walk("", reflect.ValueOf(rec), visit)
}

func walk(key string, v reflect.Value, visit func(string, reflect.Value) error) error {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return nil
		}
		return walk(key, v.Elem(), visit)
	case reflect.Struct:
		for i := range v.NumField() {
			name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			if key != "" {
				name = key + "." + name
			}
			if err := walk(name, v.Field(i), visit); err != nil {
				return err
			}
		}
		return nil
	case reflect.Slice:
		for i := range v.Len() {
			if err := walk(fmt.Sprintf("%s[%d]", key, i), v.Index(i), visit); err != nil {
				return err
			}
		}
		return nil
	}
	return visit(key, v)
}
